"""Tests of the readers."""
