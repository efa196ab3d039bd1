"""The tables of the site file for the watch: what it expects, when it speaks up, whom it tells.

Files of their own, like `home` and `mqtt`, because most runs of the program need none of them.
Addresses of the people who are told have no key here: a site file is lent and copied.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, ClassVar

from pydantic import AfterValidator, Field

from daylatch.site.messages import show_value
from daylatch.site.table import Table, TargetName, Time, one_of
from daylatch.wording import listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.clock import WallTime
    from daylatch.site.values.ways import Ways

HEAD_COUNT, DOOR = "head count", "door"
EXPECTED = (HEAD_COUNT, DOOR)
"""What can be expected to be reported."""
LEAST_EARLY_MIN = 30


def _once(names: list[str]) -> list[str]:
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise ValueError(f"names {show_value(twice)} twice: drop one")
    return names


def _two(times: list[WallTime]) -> list[WallTime]:
    if len(times) != 2 or times[0] == times[1]:
        raise ValueError('write two times, from when until when, like ["22:00", "06:00"]')
    return times


Expected = Annotated[list[Annotated[str, *one_of(EXPECTED)]], AfterValidator(_once)]
Targets = Annotated[list[TargetName], AfterValidator(_once)]
Quiet = Annotated[list[Time], AfterValidator(_two)]
Grace = Annotated[int, Field(ge=0, le=240)]


class Watch(Table):
    """What the watch expects, when it speaks up, and whom it tells."""

    ABOUT: ClassVar[str] = (
        "The watch: what it expects, when it speaks up, and whom it tells. Where messages go does "
        "not stand here but in the file of secrets beside this one, under [tell]."
    )
    EXAMPLES: ClassVar[dict[str, Any]] = {
        "tell": ["phone"],
        "early_min": 45,
        "quiet": ["22:00", "06:00"],
    }

    expects: Expected = Field(
        default_factory=lambda: [HEAD_COUNT],
        description='What must be reported, or the watch speaks up: "head count" (that somebody '
        'notes in the diary), and "door", once the door has reported for the first time.',
    )
    tell: Targets | None = Field(
        None,
        description="Whom it tells, by their names under [tell] in the file of secrets; all of "
        "them if left out.",
    )
    shut_within_min: Grace = Field(
        15,
        description="How long after the due closing the watch waits for word that the door is "
        "shut [min].",
    )
    open_within_min: Grace = Field(
        30, description="The same after the due opening, for word that it is open [min]."
    )
    count_within_min: Grace = Field(
        30, description="How long after the time of the head count it waits for that [min]."
    )
    link_within_min: Grace = Field(
        15, description="How long the door's link may be lost before the watch speaks up [min]."
    )
    early_min: Annotated[int, Field(ge=0, le=720)] | None = Field(
        None,
        description="How long before the due closing a word that the door is shut, or all birds "
        f"in, counts [min]; the margin of its clock if left out, {LEAST_EARLY_MIN} at least.",
    )
    remind_min: Annotated[int, Field(ge=5, le=720)] = Field(
        15, description="After how long the watch says it again [min]."
    )
    quiet: Quiet | None = Field(
        None,
        description="From when until when nobody is told what can wait; an open door and birds "
        "that are out never wait.",
    )
    ends_within_days: Annotated[int, Field(ge=0, le=90)] = Field(
        14,
        description="How long before it ends a table, a list or a certificate is spoken of [days].",
    )

    def told(self, ways: Ways) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        yield f"expects {listed(self.expects) or 'nothing'}"
        if self.tell is not None:
            yield f"tells {listed(self.tell) or 'nobody'}"
        yield (
            f"waits {self.shut_within_min} min for the door to be shut, {self.open_within_min} min "
            f"for it to be open, {self.count_within_min} min for the head count, "
            f"{self.link_within_min} min for a lost link"
        )
        if self.early_min is not None:
            yield f"word of up to {self.early_min} min before the closing counts"
        yield f"says it again every {self.remind_min} min"
        yield f"speaks of what ends within {self.ends_within_days} days"
        if self.quiet is not None:
            begins, ends = self.quiet
            face = ways.face
            yield f"quiet from {face.time(begins.minutes)} until {face.time(ends.minutes)}"
