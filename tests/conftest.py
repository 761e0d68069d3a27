"""Settings that all tests share."""

from hypothesis import settings

from debrief.threads import compute_in_one_thread

compute_in_one_thread()

# The same examples on every machine, and no deadline: a first call pays for an import.
settings.register_profile("debrief", max_examples=60, deadline=None, derandomize=True)
settings.load_profile("debrief")
