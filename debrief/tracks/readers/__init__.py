"""Readers of logs: one module a format, and the choice between them by content."""

from debrief.tracks.readers.registry import PACKED, READERS, SUFFIXES, Reader, read_track

__all__ = ["PACKED", "READERS", "SUFFIXES", "Reader", "read_track"]
