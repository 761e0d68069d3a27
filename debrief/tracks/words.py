"""How a sample is named to a person: its time, and its line or point in the file.

Owns      ``moment``, ``counted``, ``span``: the words that all remarks about a track share.
Not here  what is remarked (each module says its own).
"""

from __future__ import annotations

from debrief.language import plural, tr, trn
from debrief.tracks.model import Track

_SECONDS_A_MINUTE = 60.0
_DECIMALS_BELOW_S = 10.0
_AMOUNTS = {
    "sample": plural("{count:,} sample", "{count:,} samples"),
    "position": plural("{count:,} position", "{count:,} positions"),
    "altitude": plural("{count:,} altitude", "{count:,} altitudes"),
    "time": plural("{count:,} time", "{count:,} times"),
    "gap": plural("{count:,} gap", "{count:,} gaps"),
}


def counted(count: int, word: str) -> str:
    """Give a number with its word.

    >>> counted(1, "sample"), counted(14400, "sample")
    ('1 sample', '14,400 samples')
    """
    return f"{int(count):,} {word}{'' if count == 1 else 's'}"


def amount(count: int, word: str) -> str:
    """The same in a remark, in the language that is spoken."""
    one, many = _AMOUNTS[word]
    return trn(one, many, int(count))


def clock(track: Track, t_s: float) -> str:
    """Give the time of day, to the second: ``10:12:07 UTC``, as the reports write it."""
    return f"{time_of_day(track, t_s)} UTC"


def time_of_day(track: Track, t_s: float) -> str:
    """The same without its zone: the first of two times that share one."""
    return f"{track.time_at(t_s):%H:%M:%S}"


def moment(track: Track, index: int) -> str:
    """Name one raw sample: ``10:12:07 UTC (line 412)``."""
    when, number = clock(track, float(track.t_s[index])), int(track.line[index])
    if track.line_counts == "line":
        return tr("{when} (line {number})", when=when, number=number)
    return tr("{when} (point {number})", when=when, number=number)


def lasting(seconds: float) -> str:
    """Give a length of time as a person says it.

    >>> lasting(2.4), lasting(42.0), lasting(160.0)
    ('2.4 s', '42 s', '2 min 40 s')
    """
    if round(seconds) < _SECONDS_A_MINUTE:
        return f"{seconds:.1f} s" if seconds < _DECIMALS_BELOW_S else f"{seconds:.0f} s"
    minutes, rest = divmod(round(seconds), round(_SECONDS_A_MINUTE))
    return f"{minutes} min {rest} s" if rest else f"{minutes} min"
