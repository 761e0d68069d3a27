"""Tests of the tracks."""
