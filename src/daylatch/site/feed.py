"""The table of the site file that says what a calendar on the web may show.

A file of its own because most runs of the program need none of it. It is not the table of the
calendar: what a keeper shows to family is not thereby for everybody.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Literal

from pydantic import Field

from daylatch.site.calendar import seen_text
from daylatch.site.table import Table

if TYPE_CHECKING:
    from collections.abc import Iterator


class Feed(Table):
    """What `daylatch feed` puts on the web, beside the times."""

    ABOUT: ClassVar[str] = (
        "What a calendar on the web (`daylatch feed`) may show besides the times, for anybody who "
        "has its address."
    )

    show: list[Literal["name", "reasons", "place", "notes"]] = Field(
        default_factory=list, description="What anybody who has the address may also see."
    )

    def told(self) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        yield f"whoever has its address sees {seen_text(self.show)}"
