"""Light on a tilted plane: the Sun's beam, an evenly bright sky, and the ground before it.

A skyline (hills, houses, trees) takes the beam away while the Sun stands below it, and that part of
the sky which it hides.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, Protocol

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from daylatch.arrays import Flags

    Floats = NDArray[np.float64]

# Of a Sun lower than half a degree, the little light on the level says nothing of its beam.
_LEAST_UP = 0.01
_AROUND_DEG, _UPWARD_DEG = 2, 1


class Skyline(Protocol):
    """What hides a part of the sky."""

    def elevation_at(self, azimuth_deg: Floats) -> Floats:
        """Return how high it reaches at azimuths from north by east [deg]."""


class Plane(NamedTuple):
    """How a panel stands.

    Attributes
    ----------
    tilt_deg : float
        From the horizontal.
    azimuth_deg : float
        Where it faces, from north by east.
    albedo : float
        Which share of its light the ground throws back.
    """

    tilt_deg: float
    azimuth_deg: float
    albedo: float

    @property
    def ground_share(self) -> float:
        """How much of the light on the level the ground throws onto it."""
        return self.albedo * (1 - float(np.cos(np.radians(self.tilt_deg)))) / 2

    def incidence(self, altitude_rad: Floats, azimuth_rad: Floats) -> Floats:
        """Return the cosine of the angle between the Sun and its normal; 0 from behind.

        References
        ----------
        J. A. Duffie and W. A. Beckman, Solar Engineering of Thermal Processes, 4th ed. (2013),
        eq. 1.6.3, with the azimuth from north by east.
        """
        tilt, facing = np.radians(self.tilt_deg), np.radians(self.azimuth_deg)
        cosine = np.sin(altitude_rad) * np.cos(tilt)
        cosine = cosine + np.cos(altitude_rad) * np.sin(tilt) * np.cos(azimuth_rad - facing)
        above: Floats = np.where(altitude_rad > 0, np.maximum(cosine, 0.0), 0.0)
        return above

    def sky_share(self, skyline: Skyline | None = None) -> float:
        """Return how much of the diffuse light on the level reaches it, of an evenly bright sky.

        Without a skyline (1 + cos tilt) / 2 (Liu and Jordan 1963). With one, the part of the sky
        that the plane sees above it, each piece by the cosine of its incidence, summed in pieces
        of 2° by 1°.
        """
        if skyline is None:
            return (1 + float(np.cos(np.radians(self.tilt_deg)))) / 2
        azimuths: Floats = np.arange(0.0, 360.0, _AROUND_DEG) + _AROUND_DEG / 2
        altitudes: Floats = (np.arange(0.0, 90.0, _UPWARD_DEG) + _UPWARD_DEG / 2)[:, None]
        free = altitudes >= skyline.elevation_at(azimuths)
        seen = self.incidence(np.radians(altitudes), np.radians(azimuths))
        piece = np.radians(_AROUND_DEG) * np.radians(_UPWARD_DEG) * np.cos(np.radians(altitudes))
        return float((free * seen * piece).sum() / np.pi)


class Receiver(NamedTuple):
    """What of the light on the level reaches a panel, at instants.

    Attributes
    ----------
    incidence : float64
        Cosine between its normal and the Sun; 0 while a skyline hides the Sun.
    beam_gain : float64
        The beam on it, of the beam on the level.
    sky_share, ground_share : float
        The diffuse light on it, of that on the level; light from the ground, of what lies on that.
    ground_lit : float64
        Whether the beam reaches the ground: 0 while a skyline hides the Sun, else 1.
    ground_sky : float
        The diffuse light on the ground, of that on the level without a skyline.
    """

    incidence: Floats
    beam_gain: Floats
    sky_share: float
    ground_share: float
    ground_lit: Floats
    ground_sky: float

    def light(self, total: Floats, diffuse: Floats) -> Floats:
        """Return the light on it, from all and from the diffuse light on the level."""
        beam = (total - diffuse) * self.beam_gain
        return beam + diffuse * self.sky_share + self._from_ground(total, diffuse)

    def light_of_beam(self, beam_normal: Floats, total: Floats, diffuse: Floats) -> Floats:
        """Return the same where the beam across the Sun's rays is known."""
        beam = beam_normal * self.incidence
        return beam + diffuse * self.sky_share + self._from_ground(total, diffuse)

    def _from_ground(self, total: Floats, diffuse: Floats) -> Floats:
        """Return what the ground before it throws back: it lies under the same skyline."""
        lit: Floats = (total - diffuse) * self.ground_lit + diffuse * self.ground_sky
        return lit * self.ground_share


def receiver(
    plane: Plane, altitude_rad: Floats, azimuth_rad: Floats, skyline: Skyline | None = None
) -> Receiver:
    """Return what reaches a plane while the Sun stands somewhere."""
    incidence = plane.incidence(altitude_rad, azimuth_rad)
    lit = np.ones_like(incidence)
    if skyline is not None:
        lit = np.where(_is_hidden(altitude_rad, azimuth_rad, skyline), 0.0, 1.0)
    up = np.sin(altitude_rad)
    incidence = incidence * lit
    gain = np.divide(incidence, up, out=np.zeros_like(up), where=up > _LEAST_UP)
    ground_sky = plane._replace(tilt_deg=0.0).sky_share(skyline)
    return Receiver(incidence, gain, plane.sky_share(skyline), plane.ground_share, lit, ground_sky)


def _is_hidden(altitude_rad: Floats, azimuth_rad: Floats, skyline: Skyline) -> Flags:
    hidden: Flags = np.degrees(altitude_rad) < skyline.elevation_at(np.degrees(azimuth_rad))
    return hidden
