"""Recorded tracks: the model, the readers of files, and what is found out about the samples."""
