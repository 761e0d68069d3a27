"""Loaded by the server that children start from: what each of them would debrief anew is ready then."""

from tests.logbook.hard_times import one_record

one_record()
