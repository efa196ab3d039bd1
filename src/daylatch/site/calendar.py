"""The tables of the site file that say what goes into a calendar, and what its readers may see.

What a keeper shows to family is not thereby for everybody, so the calendar on the web has its own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal

from pydantic import Field

from daylatch.arrays import DAY_MIN
from daylatch.site.choices.calendar_styles import STYLES, list_styles
from daylatch.site.table import Color, StyleName, Table, chosen, empty_list
from daylatch.wording import listed

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from daylatch.site.values.ways import Ways


Seen = Literal["reasons", "place", "notes"]
"""What is shown to others only if the keeper says so."""


class Calendar(Table):
    """What goes into a calendar, which others may read."""

    ABOUT: ClassVar[str] = (
        "What goes into a calendar file. Whoever reads the calendar sees what show lists, and a "
        "note that says you are away tells strangers so."
    )

    style: StyleName = Field("movements", description=list_styles())
    step_min: Literal[5, 10, 15, 20, 30, 60] = Field(
        15, description='The step of style "steps" [min], counted from midnight on the wall clock.'
    )
    times: Literal["utc", "zone"] = Field(
        "utc", description="Times in UTC (safe), or named by the zone."
    )
    reminder_min: Annotated[int, Field(ge=0, le=DAY_MIN)] | None = Field(
        None, description="Remind this many minutes before closing."
    )
    color: Color | None = Field(
        None, description='The calendar\'s colour by its CSS name, such as "seagreen".'
    )
    show: list[Literal[Seen, "away"]] = Field(
        default_factory=empty_list,
        description="What readers of the calendar may also see; away: on a sitter's entries, that "
        "you are away, with the sitter's name and your words under [card].",
    )
    upkeep: bool = Field(
        False,
        description="Whether the calendar has entries for upkeep too: on 1 December a new table, "
        "list or card; the door's clock compared with a right one, as often as [clock] needs it, "
        "else monthly; its obstruction stop and battery tested monthly (common practice, no "
        "source).",
    )

    EXAMPLES: ClassVar[dict[str, Any]] = {"reminder_min": 10, "color": "seagreen"}

    def told(self, ways: Ways) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        style = STYLES[self.style]
        yield f"{style.entries}{f' of {self.step_min} min' if style.has_steps else ''}"
        if not style.has_steps and chosen(self, "step_min"):
            yield f"in style steps, a step of {self.step_min} min"
        yield "times in UTC" if self.times == "utc" else "times named by the zone"
        if self.reminder_min is not None:
            yield f"a reminder {self.reminder_min} min before closing"
        if self.color is not None:
            yield f"in {self.color}"
        if self.upkeep:
            yield "entries for upkeep too"
        yield f"its readers see {seen_text(self.show)}"


class Feed(Table):
    """What `daylatch feed` puts on the web, beside the times."""

    ABOUT: ClassVar[str] = (
        "What a calendar on the web (`daylatch feed`) may show besides the times, for anybody who "
        "has its address."
    )

    show: list[Literal["name", "reasons", "place", "notes"]] = Field(
        default_factory=empty_list, description="What anybody who has the address may also see."
    )

    def told(self, ways: Ways) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        yield f"whoever has its address sees {seen_text(self.show)}"


def seen_text(show: Sequence[str]) -> str:
    """Return what readers of a calendar see, from what it may show besides the times."""
    return f"the times and {listed(list(show))}" if show else "the times only"
