"""Timings, run by hand: ``python -m tests.benchmarks``. Nothing here is collected by pytest."""
