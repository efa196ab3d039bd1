"""The light of a clear sky, against the values that its published fit gives."""

from __future__ import annotations

import numpy as np
import pytest

from daylatch.sun.illuminance import clear_sky_lux

# The fit that is attributed to the Explanatory Supplement to the Astronomical Almanac (1992), pp.
# 490-493, worked out apart from this program.
PUBLISHED = {
    90: 128_825,
    60: 103_118,
    30: 46_297,
    10: 11_121,
    1: 1_268,
    0: 759,
    -0.8333: 453.5,
    -3: 79.1,
    -4: 29.9,
    -6: 3.41,
    -9: 0.116,
    -15: 0.00202,
    -18: 0.000645,
}
# Circular 171 of the US Naval Observatory (1987), Table A; two published models differ by 9 % at
# the horizon, so it is a check of the size only.
CIRCULAR_171 = {90: 123_786, 0: 697}


@pytest.mark.parametrize(("altitude", "lux"), PUBLISHED.items())
def test_the_fit_gives_its_published_values(altitude, lux):
    assert clear_sky_lux(altitude) == pytest.approx(lux, rel=0.005)


@pytest.mark.parametrize(("altitude", "lux"), CIRCULAR_171.items())
def test_another_published_model_is_near(altitude, lux):
    assert clear_sky_lux(altitude) == pytest.approx(lux, rel=0.2)


def test_light_grows_with_the_sun_but_for_a_hundredth_where_pieces_meet():
    altitudes = np.arange(-18.0, 90.0, 0.01)
    lux = clear_sky_lux(altitudes)
    assert (lux[1:] > lux[:-1] * 0.988).all()
    assert lux.shape == altitudes.shape
    grid = clear_sky_lux(altitudes[:100].reshape(10, 10))
    assert (grid.ravel() == lux[:100]).all()


def test_what_the_fit_does_not_cover_is_not_known():
    assert np.isnan(clear_sky_lux([-18.1, 90.1, np.nan])).all()
