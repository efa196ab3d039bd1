"""The table of the site file that says what hides the Sun: hills, trees, houses.

A file of its own because most runs of the program need none of it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, ClassVar

from pydantic import Field, model_validator

from daylatch.site.messages import told_text
from daylatch.site.table import ONE_LINE, Table
from daylatch.sun.skyline import HIGHEST_DEG, LOWEST_DEG, MOST_CORNERS, make_skyline

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.site.values.ways import Ways

Corners = Annotated[list[float], Field(min_length=1, max_length=MOST_CORNERS)]


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

    azimuth: Corners | None = Field(
        None,
        description="Directions of the skyline's corners, in degrees clockwise from true north "
        "(90 is east, 180 south); the skyline is straight between them, and closed all round.",
    )
    elevation: Corners | None = Field(
        None,
        description="How high it stands there above the horizontal, seen from the run, in degrees "
        f"({LOWEST_DEG:g} to {HIGHEST_DEG:g}); one for each azimuth.",
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
            corners = "1 corner" if len(self.azimuth) == 1 else f"{len(self.azimuth)} corners"
            yield (
                f"{corners}, from {min(self.elevation):g}° to {max(self.elevation):g}° above the "
                "horizontal"
            )
        if self.file is not None:
            yield f"from the file {told_text(self.file)}"

    @model_validator(mode="after")
    def _one_way(self) -> SkylineTable:
        lists = (self.azimuth is not None, self.elevation is not None)
        if self.file is not None and any(lists):
            raise ValueError("give either both lists or a file, not both")
        if any(lists) != all(lists):
            given, lacking = ("azimuth", "elevation") if lists[0] else ("elevation", "azimuth")
            raise ValueError(f"{given} without {lacking}: give one of each for every corner")
        if self.azimuth is not None and self.elevation is not None:
            make_skyline(self.azimuth, self.elevation)
        return self
