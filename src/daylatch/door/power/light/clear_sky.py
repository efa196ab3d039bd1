"""Light of a cloudless sky, and of no sky at all: what bounds every table of light.

Altitudes are those of the Sun's centre without refraction. All amounts are in watts on a square
metre.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SOLAR_CONSTANT_W_M2 = 1366.1
"""ASTM E-490-00."""
_DAYS_OF_A_YEAR = 365


def haurwitz(sin_altitude: Floats) -> Floats:
    """Return the light of a cloudless sky on a horizontal plane [W/m²], by the Sun's altitude.

    References
    ----------
    B. Haurwitz, "Insolation in relation to cloudiness and cloud density", Journal of Meteorology 2
    (1945), 154-166, and 3 (1946), 123-124; as in Reno, Hansen and Stein, SAND2012-2389 (2012).
    """
    up = np.maximum(sin_altitude, 0.0)
    exponent = np.divide(-0.059, up, out=np.full_like(up, -np.inf), where=up > 0)
    light: Floats = 1098.0 * up * np.exp(exponent)
    return light


def airless(day_of_year: Floats) -> Floats:
    """Return the light before the atmosphere, across the Sun's rays [W/m²].

    Parameters
    ----------
    day_of_year
        Counted from 1.

    References
    ----------
    J. W. Spencer, "Fourier series representation of the position of the sun", Search 2 (1971), 172.
    """
    angle = 2 * np.pi * (day_of_year - 1) / _DAYS_OF_A_YEAR
    light: Floats = SOLAR_CONSTANT_W_M2 * (
        1.00011
        + 0.034221 * np.cos(angle)
        + 0.00128 * np.sin(angle)
        + 0.000719 * np.cos(2 * angle)
        + 7.7e-05 * np.sin(2 * angle)
    )
    return light
