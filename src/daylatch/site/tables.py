"""What a site is: the shape of a keeper's file, and each key's limits.

The models mirror the file table by table, and are the one description of it: reading, messages,
the JSON Schema for editors and the reference page all come from here. A dated span repeats the
tables of settings; only the keys that it really gives count (`changes`).
"""

import datetime as dt
import importlib
from dataclasses import dataclass, field
from enum import Enum
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal, cast

import numpy as np
from pydantic import BaseModel, Field, model_validator

from daylatch.clock import DoorClock
from daylatch.site.calendar import Calendar, Feed, Seen, seen_text
from daylatch.site.choices.works import MOST_WITHIN_MIN, list_works
from daylatch.site.messages import told_text
from daylatch.site.table import (
    LONG_NIGHT_H,
    ONE_LINE,
    SEVERAL_LINES,
    SHORT_NIGHT_H,
    TEXT_LIMITS,
    Choice,
    CloseLight,
    Date,
    Guard,
    Hours,
    Identity,
    Limit,
    OpenLight,
    Table,
    TargetName,
    WorksName,
    empty_list,
)
from daylatch.site.writing import Writing
from daylatch.sun.lights import LIGHTS
from daylatch.wording import listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.arrays import Flags, Times
    from daylatch.errors import Problem
    from daylatch.site.battery import Battery, Load
    from daylatch.site.diary import Diary
    from daylatch.site.home import Home
    from daylatch.site.housing import Flock, House, Run
    from daylatch.site.laying import Laying
    from daylatch.site.mqtt import Mqtt
    from daylatch.site.norms import Norms
    from daylatch.site.panel import Panel
    from daylatch.site.skyline import SkylineTable
    from daylatch.site.sync import Sync
    from daylatch.site.timekeeping import Timekeeping
    from daylatch.site.timer import Timer
    from daylatch.site.values.measures import Measures
    from daylatch.site.values.surroundings import Surroundings
    from daylatch.site.values.ways import Ways
    from daylatch.site.watch import Watch
    from daylatch.wording import ClockFace


class Widen(Choice):
    """How a day that is open too briefly is widened."""

    OPEN_EARLIER = "open earlier"
    CLOSE_LATER = "close later"
    BOTH = "both"


class Lengthen(Choice):
    """How a night that is too short is lengthened."""

    CLOSE_EARLIER = "close earlier"
    OPEN_LATER = "open later"
    BOTH = "both"


class Place(Table):
    """Where the door is: coordinates, or a city's name."""

    ABOUT: ClassVar[str] = "Where the door is: latitude and longitude, or a city instead of them."

    latitude: Annotated[float, Field(ge=-90, le=90)] | None = Field(
        None, description="Degrees north of the equator (south is negative)."
    )
    longitude: Annotated[float, Field(ge=-180, le=180)] | None = Field(
        None, description="Degrees east of Greenwich (west is negative)."
    )
    city: Annotated[str, Field(min_length=1, max_length=100), ONE_LINE] | None = Field(
        None, description='Instead of coordinates: "Name" or "Name, country".'
    )
    zone: Annotated[str, Field(min_length=1, max_length=64), ONE_LINE] | None = Field(
        None, description="IANA time zone; found from the coordinates if left out."
    )

    @classmethod
    def examples(cls, around: "Surroundings") -> dict[str, Any]:
        """Return what a new file shows of keys that have no default, for a place and a year."""
        return {"city": around.city}

    @model_validator(mode="after")
    def _one_way(self) -> "Place":
        coordinates = (self.latitude is not None, self.longitude is not None)
        if self.city is not None and any(coordinates):
            raise ValueError("give either a city or latitude and longitude, not both")
        if self.city is None and not all(coordinates):
            raise ValueError("give latitude and longitude, or a city")
        return self


class MovementSettings(Table):
    """When one of the two daily movements takes place."""

    offset_min: Annotated[int, Field(ge=-720, le=720)] = Field(
        15, description="Minutes after the Sun passes that light (negative: before it)."
    )
    not_before: Limit = Field(None, description='Earliest wall-clock time, or "none".')
    not_after: Limit = Field(None, description='Latest wall-clock time, or "none".')
    fallback: Limit = Field(
        None, description="Wall-clock time for days that never get as dark as that light."
    )
    dark_fallback: Limit = Field(
        None,
        description="Wall-clock time for days that never get as light as that light; without it "
        "the door stays shut.",
    )


class Opening(MovementSettings):
    """When the door opens."""

    ABOUT: ClassVar[str] = (
        "When the door opens: so many minutes after a light at dawn, within limits by the clock. "
        f"The lights are {listed([light.opens for light in LIGHTS])} dawn (the Sun's centre "
        f"{listed([f'{light.depression_deg:g}' for light in LIGHTS], 'or')} degrees below the "
        "horizon), or any number of degrees."
    )

    light: OpenLight = Field(
        "civil",
        description="Which light at dawn, by name or degrees.",
    )

    EXAMPLES: ClassVar[dict[str, Any]] = {
        "not_before": "05:00",
        "not_after": "09:00",
        "fallback": "05:30",
        "dark_fallback": "09:00",
    }


class Closing(MovementSettings):
    """When the door closes."""

    ABOUT: ClassVar[str] = "When the door closes. The same keys, with sunset and dusk instead."

    light: CloseLight = Field("civil", description="Which light at dusk, by name or degrees.")
    shut_in_by_hand: bool = Field(
        False,
        description="Whether you shut the birds in yourself before a closing in daylight. Such "
        "closings are then counted, and not warned of.",
    )

    EXAMPLES: ClassVar[dict[str, Any]] = {
        "not_before": "16:00",
        "not_after": "23:00",
        "fallback": "22:30",
        "dark_fallback": "16:00",
    }


class Day(Table):
    """How long the door should be open."""

    ABOUT: ClassVar[str] = (
        "How long the door should at least be open. A day that falls short is widened, but never "
        "past a limit above nor past the guard, where predators hunt."
    )

    least_open_h: Hours = Field(0.0, description="Least open time wanted [h]; 0 for none.")
    widen: Widen = Field(
        Widen.BOTH, strict=False, description="How a day that is too short is widened."
    )
    guard: Guard = Field(
        "nautical", description="Light past which no day is widened, because predators hunt there."
    )


class Night(Table):
    """How long the door should be shut."""

    ABOUT: ClassVar[str] = "How long each night should at least last."

    least_h: Hours = Field(0.0, description="Least night wanted [h]; 0 for none.")
    lengthen: Lengthen = Field(
        Lengthen.BOTH, strict=False, description="How a night that is too short is lengthened."
    )


class HeadCount(Table):
    """When a person looks whether all birds are in."""

    ABOUT: ClassVar[str] = "When a person looks whether all birds are in."

    after_close_min: Annotated[int, Field(ge=0, le=240)] = Field(
        15, description="Minutes after closing."
    )
    second_pass: bool = Field(
        False, description="Whether the door closes once more then (doors that reopen briefly)."
    )


class Door(Table):
    """What works the door, and what its own clock keeps."""

    ABOUT: ClassVar[str] = (
        "What works the door, and what its own clock keeps. The plan says when the door should "
        "move; a plain timer or a person moves it a little later, never earlier."
    )

    works: WorksName = Field("controller", description=list_works())
    within_min: Annotated[int, Field(ge=0, le=MOST_WITHIN_MIN)] | None = Field(
        None,
        description="How many minutes later than planned a controller may move the door, so that "
        "its table is smaller; without it, none.",
    )
    in_use: Annotated[str, Field(min_length=1, max_length=400), ONE_LINE] | None = Field(
        None,
        description="The file that is really in the door: a controller's table, or a timer's list "
        "as JSON; beside the site file, unless the path says otherwise.",
    )
    EXAMPLES: ClassVar[dict[str, Any]] = {"within_min": 3, "in_use": "door-2027.bin"}
    clock: DoorClock = Field(
        DoorClock.WALL,
        strict=False,
        description="What its clock keeps: the wall clock with daylight saving, the zone's "
        "standard time all year, or UTC.",
    )


MOST_LATE_BY_MIN = 720


class CardSettings(Table):
    """The rows of the card by the door, and what it says in the keeper's own words."""

    ABOUT: ClassVar[str] = (
        "The rows of the card by the door, by which a person works it, and what it says in your "
        'own words, such as "Pull the cord down and hook it in; the key hangs inside the feed bin."'
        " Whoever comes to the door sees what show lists; a reason may say that you are away."
    )

    EXAMPLES: ClassVar[dict[str, Any]] = {"late_by_min": 15}

    rows: Literal["weeks", "months", "days"] = Field(
        "weeks", description="What a row stands for; whoever works the door goes by its times."
    )
    late_by_min: Annotated[int, Field(ge=0, le=MOST_LATE_BY_MIN)] | None = Field(
        None,
        description="How late a row may be at most on any of its days [min]; a row that would be "
        "later is split.",
    )
    by_hand: Annotated[str, Field(max_length=TEXT_LIMITS["by_hand"]), SEVERAL_LINES] = Field(
        "", description="How the door is worked by hand."
    )
    call: Annotated[str, Field(max_length=TEXT_LIMITS["call"]), SEVERAL_LINES] = Field(
        "", description="Whom to call when something is wrong."
    )
    if_missing: Annotated[str, Field(max_length=TEXT_LIMITS["if_missing"]), SEVERAL_LINES] = Field(
        "", description="On the sitter's sheet: what to do if a bird is missing."
    )
    if_hurt: Annotated[str, Field(max_length=TEXT_LIMITS["if_hurt"]), SEVERAL_LINES] = Field(
        "", description="On the sitter's sheet: what to do if a bird is hurt."
    )
    report: Annotated[str, Field(max_length=TEXT_LIMITS["report"]), SEVERAL_LINES] = Field(
        "", description='On the sitter\'s sheet: how to report, such as "text: all in".'
    )
    show: list[Seen] = Field(
        default_factory=empty_list, description="What whoever stands before the card may also see."
    )

    def told(self, ways: "Ways") -> "Iterator[str]":
        """Yield what it says in a keeper's words."""
        late = "" if self.late_by_min is None else f", at most {self.late_by_min} min late"
        yield f"rows of {self.rows}{late}"
        for label, text in (("working it by hand", self.by_hand), ("whom to call", self.call)):
            yield f'{label}: "{told_text(text)}"' if text.strip() else f"{label}: nothing said"
        for label, text in (
            ("if a bird is missing", self.if_missing),
            ("if a bird is hurt", self.if_hurt),
            ("how to report", self.report),
        ):
            if text.strip():
                yield f'{label}: "{told_text(text)}"'
        yield f"it shows {seen_text(self.show)}"


class FixedTime(Table):
    """A movement that a span can also pin to the clock."""

    fixed: Limit = Field(None, description="Wall-clock time that replaces light and limits.")


class OpeningInSpan(Opening, FixedTime):
    """The opening, as a span changes it."""


class ClosingInSpan(Closing, FixedTime):
    """The closing, as a span changes it."""


Reason = Annotated[str, Field(max_length=TEXT_LIMITS["reason"]), ONE_LINE]


class Span(Table):
    """Dates on which other settings hold."""

    first: Date = Field(alias="from", description="First date.")
    last: Date = Field(alias="until", description="Last date.")
    reason: Reason = Field("", description="In the keeper's words.")
    shut: bool = Field(False, description="Whether the door stays shut all day.")
    away: bool = Field(False, description="Whether you are away, and somebody else looks after it.")
    sitter: Annotated[str, Field(max_length=TEXT_LIMITS["name"]), ONE_LINE] = Field(
        "", description="Who looks after it while you are away, for `daylatch away`."
    )
    tell: list[TargetName] | None = Field(
        None,
        description="Whom the watch tells on these dates, instead of those under [watch].",
    )
    open: OpeningInSpan | None = None
    close: ClosingInSpan | None = None
    day: Day | None = None
    night: Night | None = None
    head_count: HeadCount | None = None

    @model_validator(mode="after")
    def _in_order(self) -> "Span":
        if self.last < self.first:
            raise ValueError(f"ends ({self.last}) before it begins ({self.first}): swap the dates")
        return self

    def covers(self, date: dt.date) -> bool:
        """Return whether a date lies within the span."""
        return bool(self.covered(np.array(date, "datetime64[D]")))

    def covered(self, dates: "Times") -> "Flags":
        """Return which of some dates [datetime64[D]] lie within the span."""
        flags: Flags = (dates >= np.datetime64(self.first)) & (dates <= np.datetime64(self.last))
        return flags

    def touches(self, first: dt.date, last: dt.date) -> bool:
        """Return whether it shares dates with a range, both ends included."""
        return self.first <= last and first <= self.last

    @property
    def dates_text(self) -> str:
        """Its dates in words."""
        return f"{self.first} until {self.last}"

    @property
    def is_of_people_only(self) -> bool:
        """Whether it says who looks after the birds, and nothing of the door."""
        return (self.away or self.tell is not None) and not any(self.changes())

    def changes(self) -> "Iterator[tuple[str, Any]]":
        """Yield the dotted key and value of every setting that the span really gives."""
        if "shut" in self.model_fields_set:
            yield "shut", self.shut
        for table in SETTING_TABLES:
            given: BaseModel | None = getattr(self, table)
            if given is not None:
                for key in type(given).model_fields:
                    if key in given.model_fields_set:
                        yield f"{table}.{key}", getattr(given, key)


SETTING_TABLES = ("open", "close", "day", "night", "head_count")
"""The tables that hold settings of a day, and that a span may repeat."""


class Head(Table):
    """What stands above the first table of the file."""

    id: Identity = Field(description="Permanent identity, written by `daylatch new`.")
    name: Annotated[str, Field(min_length=1, max_length=TEXT_LIMITS["name"]), ONE_LINE] = Field(
        description="What the keeper calls the house."
    )
    notes: Annotated[str, Field(max_length=TEXT_LIMITS["notes"]), SEVERAL_LINES] = Field(
        "", description="Anything else, in the keeper's words."
    )


TABLES: dict[str, type[Table] | str] = {
    "place": Place,
    "writing": Writing,
    "open": Opening,
    "close": Closing,
    "day": Day,
    "night": Night,
    "head_count": HeadCount,
    "door": Door,
    # Those with no model here are named only: most runs never need them.
    "timer": "daylatch.site.timer:Timer",
    "clock": "daylatch.site.timekeeping:Timekeeping",
    "calendar": Calendar,
    "feed": "daylatch.site.calendar:Feed",
    "sync": "daylatch.site.sync:Sync",
    "card": CardSettings,
    "flock": "daylatch.site.housing:Flock",
    "house": "daylatch.site.housing:House",
    "run": "daylatch.site.housing:Run",
    "skyline": "daylatch.site.skyline:SkylineTable",
    "norms": "daylatch.site.norms:Norms",
    "laying": "daylatch.site.laying:Laying",
    "watch": "daylatch.site.watch:Watch",
    "panel": "daylatch.site.panel:Panel",
    "battery": "daylatch.site.battery:Battery",
    "load": "daylatch.site.battery:Load",
    "home": "daylatch.site.home:Home",
    "mqtt": "daylatch.site.mqtt:Mqtt",
    # Its list of logs ends the tables of a new file.
    "diary": "daylatch.site.diary:Diary",
}
"""The file's tables and what each is read as, in the order in which a new file has them and `check`
tells them. A new table is its model, a line here and a field of `SiteFile`."""


def table_model(name: str) -> type[Table]:
    """Return the model of a table."""
    model = TABLES[name]
    if isinstance(model, str):
        module, _, name = model.partition(":")
        return cast("type[Table]", getattr(importlib.import_module(module), name))
    return model


@dataclass(frozen=True)
class SiteFile:
    """A whole site file, table by table; a table left out has its defaults.

    The reference of the site file lists the tables in this order.
    """

    head: Head
    place: Place
    writing: Writing = field(default_factory=Writing.model_construct)
    open: Opening = field(default_factory=Opening.model_construct)
    close: Closing = field(default_factory=Closing.model_construct)
    day: Day = field(default_factory=Day.model_construct)
    night: Night = field(default_factory=Night.model_construct)
    head_count: HeadCount = field(default_factory=HeadCount.model_construct)
    door: Door = field(default_factory=Door.model_construct)
    calendar: Calendar = field(default_factory=Calendar.model_construct)
    card: CardSettings = field(default_factory=CardSettings.model_construct)
    feed: "Feed | None" = None
    flock: "Flock | None" = None
    house: "House | None" = None
    run: "Run | None" = None
    skyline: "SkylineTable | None" = None
    laying: "Laying | None" = None
    norms: "Norms | None" = None
    timer: "Timer | None" = None
    clock: "Timekeeping | None" = None
    sync: "Sync | None" = None
    diary: "Diary | None" = None
    watch: "Watch | None" = None
    panel: "Panel | None" = None
    battery: "Battery | None" = None
    load: "Load | None" = None
    home: "Home | None" = None
    mqtt: "Mqtt | None" = None
    spans: tuple[Span, ...] = ()

    @property
    def long_night_h(self) -> float:
        """From how many hours on a lock-in counts as long."""
        return self.norms.long_night_h if self.norms else LONG_NIGHT_H

    @property
    def short_night_h(self) -> float:
        """Under how many hours a night counts as short."""
        return self.norms.short_night_h if self.norms else SHORT_NIGHT_H


class ZoneSource(Enum):
    """Where a site's time zone comes from."""

    FILE = "given in the file"
    CITY = "the city's"
    COORDINATES = "found from the coordinates"


@dataclass(frozen=True)
class Site:
    """One place with one flock, one house and one door.

    Attributes
    ----------
    file_name : str
        For messages.
    settings : SiteFile
        What the file says.
    latitude_deg, longitude_deg : float
        North and east positive.
    place_name : str
        The city found for the place; empty for coordinates.
    zone : str
        IANA name.
    zone_source : ZoneSource
        Where the zone comes from.
    warnings : tuple of Problem
        Likely slips that do not stop a plan.
    folder : str
        Where its file lies, and the files that it names.
    """

    file_name: str
    settings: SiteFile
    latitude_deg: float
    longitude_deg: float
    place_name: str
    zone: str
    zone_source: ZoneSource
    warnings: "tuple[Problem, ...]" = ()
    folder: str = ""

    @property
    def id(self) -> str:
        """The permanent identity."""
        return self.settings.head.id

    @property
    def name(self) -> str:
        """What the keeper calls the house."""
        return self.settings.head.name

    @property
    def door_clock(self) -> DoorClock:
        """What the door's own clock keeps."""
        return self.settings.door.clock

    @property
    def works(self) -> str:
        """What works the door, by its name in the site file."""
        return self.settings.door.works

    @property
    def face(self) -> "ClockFace":
        """How people are shown times of day."""
        return self.settings.writing.face

    @property
    def measures(self) -> "Measures":
        """How people are shown lengths and amounts."""
        return self.settings.writing.measures
