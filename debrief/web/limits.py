"""How much of anything the page takes: uploads, work, sign-ins, sessions. All margins are our own (common practice).

Owns      the numbers. The words that tell of them stand where they are enforced.
"""

from __future__ import annotations

MEGABYTE = 1_000_000

MOST_UPLOAD_BYTES = 64 * MEGABYTE  # of one log: ten hours at ten a second, and some air
MOST_REQUEST_BYTES = 512 * MEGABYTE  # of several logs in one form
MOST_FORM_BYTES = MEGABYTE  # of anything else
MOST_UPLOADS_AT_ONCE = 100
MOST_UPLOADS_AN_HOUR = 600  # of one account
LEAST_FREE_BYTES = 500 * MEGABYTE  # of the disk: below, no more is taken
LONGEST_UPLOAD_S = 900.0
LONGEST_SILENCE_S = 30.0  # of a sender, in the middle of a request
LONGEST_PILOT = 60
LONGEST_NAME = 120  # characters of a file's name that are kept, for people

WORKERS = 2
LONGEST_WORK_S = 120.0  # of one log
MOST_MEMORY_BYTES = 4_000 * MEGABYTE  # of the process that reads one, its libraries included
MOST_TRIES = 2  # after so many sudden ends of its process a log is refused

SESSION_S = 12 * 3600.0  # then a person signs in again
IDLE_S = 30 * 60.0  # or after so long without a request
SIGN_INS_FAILED = 5  # of one name, or from one address times SIGN_INS_SPREAD, ...
SIGN_INS_SPREAD = 4
SIGN_IN_WAIT_S = 15 * 60.0  # ... within this long: then no more are tried
LEAST_PASSWORD, MOST_PASSWORD = 12, 128  # characters
TOKEN_DAYS = 365
KEPT_REMOVED_S = 30 * 86400.0  # a removed flight can be brought back for so long
SHOWN_AT_ONCE = 100  # flights on one page of a list
KEPT_TASKS_S = 30 * 86400.0  # what was computed for a page is kept for so long after it was last asked for
PATIENCE_S = 2.5  # so long a page waits for what a worker computes, before it comes without
