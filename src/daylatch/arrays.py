"""Names for the arrays that pass between modules, and the units of time that they count in.

NumPy's own types say neither what an array holds nor its unit; these say it once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Times = NDArray[np.datetime64[Any]]
    """Instants in UTC, dates, or wall-clock times: the name of a column says which."""
    Minutes = NDArray[np.timedelta64[Any]]
    """Durations; most are whole minutes."""
    Flags = NDArray[np.bool_]

DAY = np.timedelta64(1, "D")
HOUR = np.timedelta64(1, "h")
MINUTE = np.timedelta64(1, "m")
DAY_MIN = 24 * 60
