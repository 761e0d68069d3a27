"""Units and constants, and the type of a value that varies by sample.

Owns      the conversions between the units in our names, and the one ``F``.
Not here  anything that belongs to one subject only (gas constants: ``atmosphere``).
Source    1 NM = 1,852 m, 1 ft = 0.3048 m, g = 9.80665 m/s²: exact by definition.
"""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

#: What varies by sample: a float in gives a float out, an array in gives an array of its shape.
F = TypeVar("F", float, Floats)


def plain(values: ArrayLike) -> Any:  # numpy's types cannot say that a scalar in comes out as a scalar
    """Take the number out of an array without axes; leave any other array as it is.

    >>> print(plain(np.array(2.0)), plain(np.array([2.0])))
    2.0 [2.]
    """
    return np.asarray(values)[()]


METRES_PER_NM = 1852.0
METRES_PER_FT = 0.3048
FEET_PER_NM = METRES_PER_NM / METRES_PER_FT
SECONDS_PER_HOUR = 3600.0
SECONDS_PER_MINUTE = 60.0
MINUTES_PER_HOUR = 60.0
M_S_PER_KT = METRES_PER_NM / SECONDS_PER_HOUR
KT_PER_M_S = SECONDS_PER_HOUR / METRES_PER_NM
GRAVITY_M_S2 = 9.80665
