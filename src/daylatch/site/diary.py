"""The table of the site file that says where the diary is, and how logs are laid out.

A file of its own because most runs of the program need none of it.
"""

from __future__ import annotations

import datetime as dt
import re
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from daylatch.clock import UnknownZoneError, get_zone, zone_names
from daylatch.site.choices.entry_kinds import ENTRY_KINDS, MOST_STAMP_MIN, STAMPS
from daylatch.site.messages import show_value, suggest, told_text
from daylatch.site.table import (
    ONE_LINE,
    TEXT_LIMITS,
    KindsByWord,
    Table,
    empty_list,
    one_of,
    spoken,
    words_of,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.site.values.ways import Ways


DOOR_CLOCK = "door"
MOST_TAKES_S = 600
_LONGEST = 100
# Each part of it differs from the others, so that a format which mixes them up is told.
_SAMPLE = dt.datetime(2027, 11, 24, 20, 14, 55, tzinfo=dt.UTC)


def _format(text: str) -> str:
    """Return a way to write a date and a time, if strptime reads with it what strftime writes."""
    try:
        read = dt.datetime.strptime(_SAMPLE.strftime(text), text)  # noqa: DTZ007
    except (ValueError, OverflowError, re.error, IndexError):
        read = None
    if read is None or read.replace(second=_SAMPLE.second, tzinfo=dt.UTC) != _SAMPLE:
        raise ValueError(
            "gives no whole date and time: write year, month, day, hour and minute, like "
            '"%d.%m.%Y %H:%M", or "%m/%d/%Y %I:%M %p" for 12-hour times'
        )
    return text


def _clock(name: str) -> str:
    if name != DOOR_CLOCK:
        try:
            get_zone(name)
        except UnknownZoneError:
            remedy = suggest(name, zone_names()) or (
                f'; write "{DOOR_CLOCK}" for the door\'s clock, "UTC", or a zone like "Europe/Oslo"'
            )
            raise ValueError(f"no such clock{remedy}") from None
    return name


def _logs(value: Any) -> Any:
    if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
        raise ValueError("is a list of tables: write [[diary.log]] for each")
    return value


Column = Annotated[str, Field(min_length=1, max_length=_LONGEST), ONE_LINE]
Name = Annotated[str, Field(min_length=1, max_length=TEXT_LIMITS["name"]), ONE_LINE]
TimeFormat = Annotated[str, Field(max_length=_LONGEST), ONE_LINE, AfterValidator(_format)]
ClockName = Annotated[str, Field(max_length=_LONGEST), ONE_LINE, AfterValidator(_clock)]
StampName = Annotated[str, *one_of(STAMPS)]
KindName = Annotated[str, *one_of(ENTRY_KINDS)]
Words = Annotated[KindsByWord, words_of("log", 200, _LONGEST)]


class DiaryLog(Table):
    """How a log is laid out: which of its columns say what."""

    ABOUT: ClassVar[str] = (
        "A log as CSV that `daylatch diary import` reads into the diary: its first row names the "
        "columns, and here stands which of them say what. As many [[diary.log]] as you like."
    )
    EXAMPLES: ClassVar[dict[str, Any]] = {
        "name": "shed logger",
        "instant": "Timestamp",
        "date": "Date",
        "time": "Time",
        "what": "Event",
        "kind": "last_in",
        "words": {"OPEN": "opened", "CLOSED": "shut", "Heartbeat": ""},
        "value": "Reading",
        "note": "Remarks",
        "format": "%d.%m.%Y %H:%M",
        "clock": DOOR_CLOCK,
        "stamped_by": "door",
        "within_min": 2,
        "delimiter": ";",
    }

    name: Name = Field(description="What keeps the log; entries say that they are from it.")
    instant: Column | None = Field(None, description="Column with date and time together.")
    date: Column | None = Field(None, description="Column with the date, beside one with the time.")
    time: Column | None = Field(None, description="Column with the time.")
    what: Column | None = Field(None, description="Column that says what happened.")
    words: Words | None = Field(
        None,
        description="What the words of that column mean, each a kind of entry, or nothing for "
        "those to pass over; case and blanks around do not count. The names of the kinds "
        "themselves if left out.",
    )
    kind: KindName | None = Field(
        None, description="Kind of entry of all rows, for a log without a column that says so."
    )
    value: Column | None = Field(
        None, description="Column with a count, volts or the reading of a clock."
    )
    note: Column | None = Field(None, description="Column with a note.")
    format: TimeFormat | None = Field(
        None,
        description="How date and time are written, with a blank between two columns: %d day, %m "
        "month, %Y year, %H hour, %I hour of 12 with %p for AM or PM, %M minute, %S second (as "
        "strptime has it); found from the log if left out.",
    )
    clock: ClockName | None = Field(
        None,
        description=f'Whose time they are in: "{DOOR_CLOCK}" for the door\'s clock, "UTC", or an '
        "IANA time zone; the site's if left out.",
    )
    stamped_by: StampName | None = Field(
        None, description="What stamped the rows; the door with its clock, else a server."
    )
    within_min: Annotated[float, Field(ge=0, le=MOST_STAMP_MIN)] | None = Field(
        None, description="How sure the times are, either way [min]; by what stamped if left out."
    )
    takes_s: Annotated[int, Field(ge=0, le=MOST_TAKES_S)] = Field(
        0,
        description="How long the door moves, if the log has the end of a movement [s]; it is "
        "taken off.",
    )
    delimiter: Literal[",", ";", "tab"] | None = Field(
        None, description="What stands between two cells; found from the log if left out."
    )

    @property
    def stamp(self) -> str:
        """What stamped its rows."""
        return self.stamped_by or ("door" if self.clock == DOOR_CLOCK else "server")

    def told(self, ways: Ways) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        yield f'log "{told_text(self.name)}"'
        for key in ("instant", "date", "time", "what", "value", "note"):
            column = getattr(self, key)
            if column is not None:
                yield f'{key} in "{told_text(column)}"'
        if self.kind is not None:
            yield f"every row {self.kind}"
        for word, kind in (self.words or {}).items():
            yield f'"{told_text(word)}" is {kind or "passed over"}'
        if self.format is not None:
            yield f"written as {told_text(self.format)}"
        clock = {None: "the site's zone", DOOR_CLOCK: "the door's clock"}
        yield f"in the time of {clock.get(self.clock, self.clock)}"
        within = "" if self.within_min is None else f", within {self.within_min:g} min"
        yield f"stamped by {self.stamp}{within}"
        if self.takes_s:
            yield f"{self.takes_s} s taken off movements"
        if self.delimiter is not None:
            yield f'"{self.delimiter}" between cells'

    @model_validator(mode="after")
    def _says_when_and_what(self) -> DiaryLog:
        if (self.date is None) != (self.time is None) or (self.instant is None) == (
            self.date is None
        ):
            raise ValueError("give instant, or date and time: the columns that say when")
        if (self.what is None) == (self.kind is None):
            raise ValueError("give what, the column that says what happened, or kind for all rows")
        if self.words is not None and self.what is None:
            raise ValueError("give what, the column in which the words stand")
        return self


class Diary(Table):
    """Where the diary is, and how logs are laid out that it takes in."""

    ABOUT: ClassVar[str] = (
        "The diary: what was seen of the door and the birds, kept in a file of its own."
    )

    file: Annotated[str, Field(min_length=1, max_length=400), ONE_LINE] | None = Field(
        None,
        description="Its file, beside the site file unless the path says otherwise; named like "
        "the site file, with .diary at its end, if left out.",
    )
    log: Annotated[list[DiaryLog], BeforeValidator(_logs)] = Field(
        default_factory=empty_list, description="How logs are laid out, each in a table of its own."
    )

    EXAMPLES: ClassVar[dict[str, Any]] = {"file": "hens.diary"}

    def told(self, ways: Ways) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        if self.file is not None:
            yield f"kept in {told_text(self.file)}"
        for log in self.log:
            yield ", ".join(log.told(ways))

    @model_validator(mode="after")
    def _names_differ(self) -> Diary:
        names = [spoken(log.name) for log in self.log]
        twice = next((log.name for log in self.log if names.count(spoken(log.name)) > 1), None)
        if twice is not None:
            raise ValueError(f"two logs have the name {show_value(twice)}: give each its own")
        return self
