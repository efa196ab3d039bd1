"""The table of the site file that says what a calendar on the web may show.

A file of its own because most runs of the program need none of it. It is not the table of the
calendar: what a keeper shows to family is not thereby for everybody.
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from daylatch.site.table import Table


class Feed(Table):
    """What `daylatch feed` puts on the web, beside the times."""

    show: list[Literal["name", "reasons", "place", "notes"]] = Field(
        default_factory=list, description="What anybody who has the address may also see."
    )
