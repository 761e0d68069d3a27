"""The table of samples as CSV and Parquet.

Owns      how many decimals each column is written with, and how a missing value is.
Not here  the columns (``debrief.tables``), what stands in them (``measures.samples``).
"""

from __future__ import annotations

from io import BytesIO, StringIO
from typing import TYPE_CHECKING

from debrief.result import Result
from debrief.tables import samples_table

if TYPE_CHECKING:
    import pandas as pd

#: Decimals: finer than any of them is known, and no more than can be read.
_DECIMALS = {
    "latitude": 7,
    "longitude": 7,
    "altitude_ft": 1,
    "groundspeed_kt": 1,
    "ground_track_true_deg": 2,
    "vertical_speed_fpm": 0,
    "turn_rate_deg_s": 3,
    "course_deg": 1,
    "cross_track_nm": 4,
    "deviation_deg": 3,
    "deflection": 4,
    "dme_nm": 3,
    "bearing_deg": 2,
    "relative_bearing_deg": 2,
}


def samples_csv(result: Result) -> bytes:
    """UTF-8, commas, a line feed after each row; empty where there is no value; times ISO 8601 with a ``Z``."""
    table = samples_table(result)
    for name, decimals in _DECIMALS.items():
        table[name] = _written(table[name], decimals)
    table["time"] = table["time"].dt.strftime("%Y-%m-%dT%H:%M:%S.%f").str.slice(0, 23) + "Z"
    text = StringIO()
    table.to_csv(text, index=False, lineterminator="\n")
    return text.getvalue().encode()


def _written(values: pd.Series[float], decimals: int) -> pd.Series[str]:
    import pandas as pd

    texts = [f"{value:.{decimals}f}" if value == value else None for value in values.tolist()]
    return pd.Series(texts, index=values.index, dtype="str")


def samples_parquet(result: Result) -> bytes:
    """The same columns with their types, not rounded."""
    content = BytesIO()
    samples_table(result).to_parquet(content, engine="pyarrow", index=False)
    return content.getvalue()
