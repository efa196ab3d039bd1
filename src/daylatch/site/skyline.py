"""The table of the site file that says what hides the Sun: hills, trees, houses.

A file of its own because most runs of the program need none of it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, ClassVar

from pydantic import AfterValidator, Field, model_validator

from daylatch.site.messages import told_text
from daylatch.site.table import ONE_LINE, Table
from daylatch.sun.skyline import (
    HIGHEST_DEG,
    MOST_CORNERS,
    check_azimuths,
    check_elevations,
    make_skyline,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.site.values.ways import Ways

Corners = Annotated[list[float], Field(min_length=1, max_length=MOST_CORNERS)]


LOWEST_SEEN_DEG = -3.0
"""How low a skyline can be seen [deg]: the sea's horizon lies 1.9 degrees below the horizontal from
4,000 m, since a line of sight touches the Earth at acos(R / (R + h))."""


def _azimuths(values: list[float]) -> list[float]:
    check_azimuths(values)
    return values


def _elevations(values: list[float]) -> list[float]:
    check_elevations(values, LOWEST_SEEN_DEG)
    return values


class SkylineTable(Table):
    """What hides the Sun round the run: the height of the skyline by direction."""

    ABOUT: ClassVar[str] = (
        "What hides the Sun round the run: how high hills, trees and houses stand above the "
        "horizontal, by direction. It moves no time of the door: `daylatch sunlight` says when "
        "direct sun reaches the run. Directions are counted from true north, not from the "
        "compass's: add its declination, east positive."
    )
    EXAMPLES: ClassVar[dict[str, Any]] = {
        "azimuth": [0, 90, 150, 180, 230, 300],
        "elevation": [2, 8, 15, 12, 4, 3],
        "file": "skyline.csv",
    }

    azimuth: Annotated[Corners, AfterValidator(_azimuths)] | None = Field(
        None,
        description="Directions of the skyline's corners, in degrees clockwise from true north "
        "(90 is east, 180 south); the skyline is straight between them, and closed all round.",
    )
    elevation: Annotated[Corners, AfterValidator(_elevations)] | None = Field(
        None,
        description="How high it stands there above the horizontal, seen from the run, in degrees "
        f"({LOWEST_SEEN_DEG:g} to {HIGHEST_DEG:g}); one for each azimuth.",
    )
    file: Annotated[str, Field(min_length=1, max_length=400), ONE_LINE] | None = Field(
        None,
        description="Instead of both lists: a CSV file with the columns azimuth and elevation, or "
        "a horizon file of PVGIS as it comes; beside the site file, unless the path says "
        "otherwise.",
    )

    def told(self, ways: Ways) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        if self.azimuth and self.elevation:
            both = sorted(zip(self.elevation, self.azimuth, strict=True))
            (low, low_at), (high, high_at) = both[0], both[-1]
            corners = "1 corner" if len(both) == 1 else f"{len(both)} corners"
            yield f"{corners}, lowest {low:g}° at azimuth {low_at:g}"
            yield f"highest {high:g}° at azimuth {high_at:g}"
        elif self.azimuth or self.elevation:
            yield "one list without the other, so nothing is known of it"
        if self.file is not None:
            yield f"from the file {told_text(self.file)}"

    @property
    def remedy(self) -> str:
        """What is said of one of the lists without the other; see `lacking`."""
        return (
            f"a skyline is both lists, or a file: add {self.lacking}, with a number for each of "
            "the other's"
        )

    @property
    def lacking(self) -> str | None:
        """The list that is missing beside the other; None if none is."""
        if self.azimuth and not self.elevation:
            return "elevation"
        return "azimuth" if self.elevation and not self.azimuth else None

    @model_validator(mode="after")
    def _one_way(self) -> SkylineTable:
        if self.file is not None and (self.azimuth or self.elevation):
            raise ValueError("give either both lists or a file, not both")
        if self.azimuth is not None and self.elevation is not None:
            make_skyline(self.azimuth, self.elevation)
        return self
