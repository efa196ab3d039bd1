"""The table of the site file that says how a keeper writes times, lengths and weeks.

What is written for people goes by it. Files for programs, and the site file itself, do not.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Literal

from pydantic import Field

from daylatch.site.table import Table
from daylatch.site.values.measures import Measures
from daylatch.site.values.ways import Ways
from daylatch.wording import FACE_12_HOURS, FACE_24_HOURS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.wording import ClockFace

FACES = {"24h": FACE_24_HOURS, "12h": FACE_12_HOURS}
"""How times of day are written, by what the site file calls it."""
WEEKDAYS_FROM_MONDAY = {"monday": 0, "friday": 4, "saturday": 5, "sunday": 6}
"""On which days weeks begin anywhere, counted from Monday (CLDR's week data)."""


class Writing(Table):
    """How times, lengths and weeks are written, and on what paper."""

    ABOUT: ClassVar[str] = (
        "How you write: in text, on pages and pictures, and in calendars. Files for programs are "
        "the same for everybody, and so are the times in this file."
    )
    EXAMPLES: ClassVar[dict[str, str]] = {"units": "metric"}

    clock: Literal["24h", "12h"] = Field(
        "24h", description="How times of day are written: 18:30, or 6:30 PM."
    )
    units: Literal["metric", "us"] | None = Field(
        None,
        description="In what lengths, areas, weights, volumes and temperatures are written: metric "
        "units, or those of the USA; both, if left out.",
    )
    paper: Literal["a4", "letter"] = Field("a4", description="On what pages are printed.")
    week_begins: Literal["monday", "friday", "saturday", "sunday"] = Field(
        "monday",
        description="With which day weeks begin: the rows of a card, the scales of pictures.",
    )

    def told(self, ways: Ways) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        yield f"times like {self.face.time(18 * 60 + 30)}"
        words = {"metric": "metric units", "us": "units of the USA", None: "units of both systems"}
        yield words[self.units]
        yield f"pages of {self.paper.title() if self.paper == 'letter' else 'A4'} paper"
        yield f"weeks begin on {self.week_begins.title()}"

    @property
    def ways(self) -> Ways:
        """How times of day, lengths and amounts are written."""
        return Ways(self.face, self.measures)

    @property
    def face(self) -> ClockFace:
        """How people are shown times of day."""
        return FACES[self.clock]

    @property
    def measures(self) -> Measures:
        """How people are shown lengths and amounts."""
        return Measures(self.units or "")

    @property
    def chosen_paper(self) -> str | None:
        """The paper that the file asks for; None leaves it to a browser where that prints."""
        return self.paper if "paper" in self.model_fields_set else None

    @property
    def first_weekday(self) -> int:
        """The day that weeks begin with, counted from Monday, which is 0."""
        return WEEKDAYS_FROM_MONDAY[self.week_begins]
