"""Readers of logs: one module a format, and the choice between them by content."""

from debrief.tracks.readers.registry import READERS, Reader, read_track

__all__ = ["READERS", "Reader", "read_track"]
