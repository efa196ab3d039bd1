"""How bright a clear sky makes the ground, by the Sun's altitude: from full sun to night."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

LOWEST_DEG, HIGHEST_DEG = -18.0, 90.0
"""Between which altitudes of the Sun the fit holds [deg]."""

# From where on; then the terms of the logarithm to base 10, of the altitude over 90 degrees.
_PIECES = (
    (-18.0, 13.84, 262.72, 1447.42, 2797.93),
    (-12.0, 2.70, 12.17, -431.69, -1899.83),
    (-5.0, 2.88, 21.81, -258.11, -858.36),
    (-0.8, 2.88, 22.26, -207.64, 1034.30),
    (5.0, 3.05, 13.28, -45.98, 64.33),
    (20.0, 3.74, 3.97, -4.07, 1.47),
)


def clear_sky_lux(altitude_deg: ArrayLike) -> NDArray[np.float64]:
    """Return the light on level ground under a clear sky, without a Moon [lx].

    Parameters
    ----------
    altitude_deg
        Of the Sun's centre, ``LOWEST_DEG`` to ``HIGHEST_DEG``; not a number outside.

    References
    ----------
    P. K. Seidelmann (ed.), Explanatory Supplement to the Astronomical Almanac (1992), pp. 490-493
    (the source from memory; the coefficients as E. Ofek's ``sunlight.m`` has them, 1999). They err
    by .02 in the logarithm at most, and meet by 1.1 % at most. At the horizon another published
    model has 9 % less (US Naval Observatory Circular 171, 1987).
    """
    altitude = np.asarray(altitude_deg, np.float64)
    starts = np.array([piece[0] for piece in _PIECES])
    piece = np.clip(np.searchsorted(starts, altitude, "right") - 1, 0, len(_PIECES) - 1)
    x = altitude / 90.0
    terms = np.moveaxis(np.array([piece[1:] for piece in _PIECES])[piece], -1, 0)
    lux = 10.0 ** (terms[0] + x * (terms[1] + x * (terms[2] + x * terms[3])))
    known = (altitude >= LOWEST_DEG) & (altitude <= HIGHEST_DEG)
    return np.where(known, lux, np.nan)
