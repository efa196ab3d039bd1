"""The table of the site file that says what panel charges the door's battery, and in what light."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, ClassVar

from pydantic import AfterValidator, Field, model_validator

from daylatch.site.messages import told_text
from daylatch.site.table import ONE_LINE, Table
from daylatch.site.values.shares import LightByMonth, Share, ends_of, given_words
from daylatch.sun.skyline import check_azimuths

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.site.values.surroundings import Surroundings
    from daylatch.site.values.ways import Ways

PERFORMANCE = 0.75
"""Which share of a panel's rated watts reaches the battery (common practice, no source)."""
_FAR_NORTH_DEG = 60.0
ALBEDO = 0.2
"""Which share of its light grass throws back (pvlib 0.16.1, albedo.py: grass)."""
LIGHT_KEYS = ("plane_kwh_m2_day", "horizontal_kwh_m2_day", "light_file")
"""The keys that say how much light there is, of which one is given at most."""

_TOLD = {
    "watts": "a panel of {:g} W".format,
    "tilt": "tilted {:g}° from flat".format,
    "azimuth": "facing {:g}° from north".format,
    "performance": "{:.4g} of its watts reach the battery".format,
    "albedo": "the ground throws back {:.4g} of the light".format,
    "plane_kwh_m2_day": lambda light: f"light on its plane by month {ends_of(light)} kWh/m² a day",
    "horizontal_kwh_m2_day": lambda light: f"light by month {ends_of(light)} kWh/m² a day",
    "light_file": lambda name: f"light from the file {told_text(name)}",
}


def _azimuth(value: float) -> float:
    check_azimuths([value])
    return value


class Panel(Table):
    """The panel that charges the door's battery."""

    ABOUT: ClassVar[str] = (
        "The solar panel that charges the door's battery, for `daylatch power`: how large it is, "
        "how it stands, and how much light there is, by one of three keys; without any a cloudless "
        "sky is taken, which promises too much. Wiring follows local electrical codes and a "
        "licensed practitioner."
    )

    watts: Annotated[float, Field(gt=0, le=10_000)] | None = Field(
        None, description="Its rated power, as it is printed on it [W]."
    )
    tilt: Annotated[float, Field(ge=0, le=90)] | None = Field(
        None, description="How steep it stands [degrees]: 0 lies flat, 90 stands upright."
    )
    azimuth: Annotated[float, AfterValidator(_azimuth)] | None = Field(
        None,
        description="Where it faces [degrees], counted clockwise from true north: 90 is east, 180 "
        "south, 270 west. If left out, the side of the midday Sun.",
    )
    performance: Annotated[Share, Field(gt=0)] = Field(
        PERFORMANCE,
        description="Which share of its rated watts reaches the battery, after heat, dirt, wires "
        "and the charger (common practice, no source).",
    )
    albedo: Share = Field(
        ALBEDO,
        description="Which share of its light the ground before it throws back: grass 0.2, fresh "
        "snow 0.75.",
    )
    plane_kwh_m2_day: LightByMonth | None = Field(
        None,
        description="Light on the plane of the panel by month, January to December [kWh/m² a day].",
    )
    horizontal_kwh_m2_day: LightByMonth | None = Field(
        None,
        description="Instead: light on a horizontal plane by month [kWh/m² a day].",
    )
    light_file: Annotated[str, Field(min_length=1, max_length=400), ONE_LINE] | None = Field(
        None,
        description="Instead: a PVGIS file for the place, of a typical year (CSV, hourly) or of "
        "months; beside the site file, unless the path says otherwise.",
    )

    @classmethod
    def examples(cls, around: Surroundings) -> dict[str, Any]:
        """Return what a new file shows of keys that have no default, for a place and a year."""
        south = around.latitude_deg >= 0
        winter = [0.6, 1.2, 2.4, 4.0, 5.0, 5.3, 5.1, 4.3, 3.0, 1.7, 0.8, 0.5]
        if abs(around.latitude_deg) > _FAR_NORTH_DEG:
            winter = [0.0, 0.3, 1.3, 3.0, 4.3, 4.9, 4.6, 3.2, 1.8, 0.7, 0.1, 0.0]
        flat = winter if south else winter[6:] + winter[:6]
        return {
            "watts": 10,
            "tilt": 60,
            "azimuth": 180 if south else 0,
            "plane_kwh_m2_day": [round(value * 0.9 + 0.4 * (value > 0.2), 1) for value in flat],
            "horizontal_kwh_m2_day": flat,
            "light_file": "light.csv",
        }

    def told(self, ways: Ways) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        yield from given_words(self, _TOLD)

    @model_validator(mode="after")
    def _one_light(self) -> Panel:
        given = [key for key in LIGHT_KEYS if getattr(self, key) is not None]
        if len(given) > 1:
            raise ValueError(f"{' and '.join(given)} say the light twice: keep one of them")
        return self
