"""The table of the site file that says which calendar on a server is kept, and how far.

A file of its own because most runs of the program need none of it. Logins have no key here: a site
file is lent and copied.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, ClassVar

from pydantic import BeforeValidator, Field

from daylatch.console import printable
from daylatch.site.messages import told_text
from daylatch.site.table import ONE_LINE, Table
from daylatch.site.values.web_address import check_address, hide_login

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.site.values.ways import Ways


def _address(text: Any) -> Any:
    return check_address(text) if isinstance(text, str) else text


class Sync(Table):
    """A calendar on a CalDAV server that is kept as the plan says."""

    ABOUT: ClassVar[str] = (
        "A calendar on a CalDAV server that `daylatch sync` keeps as the plan says. Logins do not "
        "belong here: they are asked for, or read from the environment or the keyring."
    )

    url: Annotated[str, BeforeValidator(_address)] | None = Field(
        None,
        description="Address of the calendar; or of your account on the server, with `calendar`.",
    )
    calendar: Annotated[str, Field(min_length=1, max_length=100), ONE_LINE] | None = Field(
        None, description="Name of the calendar in that account; made there if it is missing."
    )
    days_ahead: Annotated[int, Field(ge=1, le=400)] = Field(
        60, description="Days from today on that the calendar holds."
    )
    days_behind: Annotated[int, Field(ge=0, le=60)] = Field(
        7, description="Days before today that are still looked after."
    )

    EXAMPLES: ClassVar[dict[str, Any]] = {
        "url": "https://cal.example.org/hens/",
        "calendar": "Hen house",
    }

    def told(self, ways: Ways) -> Iterator[str]:
        """Yield what it says in a keeper's words, without a login that an address may carry."""
        if self.calendar is not None:
            yield f'the calendar "{told_text(self.calendar)}"'
        yield f"at {printable(hide_login(self.url))}" if self.url else "no address is given"
        yield f"kept from {self.days_behind} days ago to {self.days_ahead} days ahead"
