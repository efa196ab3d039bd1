"""The text of a new site file: what a keeper edits, or every table and key there is.

Names, defaults, meanings and what may stand come from the models (`keys`); by hand are only the
paragraphs above the tables.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from daylatch.site.messages import toml_text
from daylatch.site.reading import TABLES, table_model
from daylatch.site.starter.examples import key_examples, span_examples
from daylatch.site.starter.keys import key_lines, keys_of, note_lines
from daylatch.site.tables import SETTING_TABLES, Head, Span
from daylatch.sun.lights import LIGHTS
from daylatch.wording import listed

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from pydantic import BaseModel

    from daylatch.clock import WallTime


@dataclass(frozen=True)
class Start:
    """What a new site file says.

    Attributes
    ----------
    id : str
        A UUID.
    name : str
        What the keeper calls the house.
    latitude_deg, longitude_deg : float
        North and east positive.
    city : str
        Where the coordinates come from; empty if they were given.
    zone : str
        IANA name.
    fallback_open, fallback_close : WallTime or None
        Both or none.
    year : int
        That the dates of examples lie in.
    """

    id: str
    name: str
    latitude_deg: float
    longitude_deg: float
    city: str
    zone: str
    fallback_open: WallTime | None
    fallback_close: WallTime | None
    year: int


_FIRST_LINE = "A site file of daylatch: one place, one flock, one house, one door."
_HOW_TO_READ = (
    "Lines that begin with # are notes, or settings that you can switch on by taking the # away. "
    "Such a setting shows its default, which holds anyway; where it has none, an example."
)
_SHORT = {
    "place": ("latitude", "longitude", "zone"),
    "open": (),
    "close": (),
    "day": (),
    "night": (),
    "head_count": (),
    "door": (),
    "timer": ("tolerance_min", "on", "step_min", "follows_clock"),
}
"""The tables of the short file, each with its keys; without any, with all of them."""
_ORDER = (*_SHORT, "clock", "calendar", "feed", "sync", "card", "flock", "house", "run")
_ORDER += ("norms", "laying")
_SWITCHED_ON = {*SETTING_TABLES, "door"}
"""The tables whose defaults stand there switched on, to be edited."""

_ABOUT = {
    "place": "Where the door is: latitude and longitude, or a city instead of them.",
    "open": "When the door opens: so many minutes after a light at dawn, within limits by the "
    f"clock. The lights are {listed([light.opens for light in LIGHTS])} dawn (the Sun's centre "
    f"{listed([f'{light.depression_deg:g}' for light in LIGHTS], 'or')} degrees below the "
    "horizon), or any number of degrees.",
    "close": "When the door closes. The same keys, with sunset and dusk instead.",
    "day": "How long the door should at least be open. A day that falls short is widened, but "
    "never past a limit above nor past the guard, where predators hunt.",
    "night": "How long each night should at least last.",
    "head_count": "When a person looks whether all birds are in.",
    "door": "What the door's own clock keeps.",
    "timer": "If the door is worked by a plain timer with fixed times that you change by hand: "
    "`daylatch settings` lists when, and to what.",
    "clock": "How well the door's own clock keeps time: `daylatch drift` says when it must be set "
    "again.",
    "calendar": "What goes into a calendar file. Whoever reads the calendar sees what show lists, "
    "and a note that says you are away tells strangers so.",
    "feed": "What a calendar on the web (`daylatch feed`) may show besides the times, for anybody "
    "who has its address.",
    "sync": "A calendar on a CalDAV server that `daylatch sync` keeps as the plan says. Logins do "
    "not belong here: they are asked for, or read from the environment or the keyring.",
    "card": 'What the card by the door says in your own words, such as "Pull the cord down and '
    'hook it in; the key hangs inside the feed bin."',
    "flock": "The birds. Here, and of the house and the run, what is left out counts as not "
    "known. Cold means that water freezes, hot that it is mostly above 32 °C.",
    "house": "The house they sleep in. Its floor is given once, in square metres or square feet.",
    "run": "The run beside it. Its floor is given once too.",
    "norms": "The norms that the house is held against (`daylatch fit`), by name: "
    "docs/reference/norms.md says what each asks for.",
    "laying": "How long the day should be for laying, and a lamp that keeps it. A lamp in a dusty "
    "house can start a fire: see the cautions that come with its times.",
}
_ABOUT_ID = (
    "Never change the id, and never copy it to another house's file: calendars know the house by "
    "it."
)
_ABOUT_SPANS = (
    "Dates on which something else holds; as many [[span]] as you like. Later ones win, key by "
    "key. Every key of [open], [close], [day], [night] and [head_count] may stand in one, dotted."
)


def starter_text(start: Start, *, everything: bool = False) -> str:
    """Return the text of the file.

    Parameters
    ----------
    start
        What it says of the house.
    everything
        Whether it shows every table and key, and not only what most keepers edit.
    """
    writer = _Writer(start, everything)
    parts = [writer.head(), *map(writer.table, _ORDER if everything else _SHORT), writer.spans()]
    return "\n\n".join("\n".join(part) for part in parts) + "\n"


class _Writer:
    """Writes the parts of one file."""

    def __init__(self, start: Start, everything: bool) -> None:
        self.start = start
        self.everything = everything
        place = (start.latitude_deg, start.year)
        self.examples = key_examples(*place, start.city or "Utrecht, NL")
        self.span_examples = span_examples(*place)[: None if everything else 2]
        self.told: set[tuple[str, str]] = set()

    def head(self) -> list[str]:
        """Return what stands above the first table."""
        lines = [*note_lines(_FIRST_LINE), *note_lines(_HOW_TO_READ)]
        if not self.everything:
            others = ", ".join(name for name in _ORDER if name not in _SHORT)
            lines += note_lines(f"`daylatch new --all` shows every other table ({others}) and key.")
        given = {"id": self.start.id, "name": self.start.name}
        return [*lines, "", *note_lines(_ABOUT_ID), *self.keys(Head, given)]

    def table(self, name: str) -> list[str]:
        """Return a table with what it is about."""
        given: dict[str, Any] = {}
        about = _ABOUT[name]
        match name:
            case "place":
                # As exact as they came.
                north, east = self.start.latitude_deg, self.start.longitude_deg
                given = {"latitude": north, "longitude": east, "zone": self.start.zone}
                if self.start.city:
                    about += f" These coordinates are those of {self.start.city} (GeoNames)."
            case "open" if self.start.fallback_open:
                given = {"fallback": self.start.fallback_open}
            case "close" if self.start.fallback_close:
                given = {"fallback": self.start.fallback_close}
        lines = self.keys(
            table_model(name),
            given,
            () if self.everything else _SHORT[name],
            self.examples.get(name, {}),
            switched_on=name in _SWITCHED_ON,
        )
        return [*note_lines(about), f"[{name}]", *lines]

    def keys(
        self,
        model: type[BaseModel],
        given: Mapping[str, Any],
        chosen: tuple[str, ...] = (),
        examples: Mapping[str, Any] | None = None,
        *,
        switched_on: bool = False,
    ) -> Iterator[str]:
        """Yield the lines of a table's keys.

        Parameters
        ----------
        model
            Of the table.
        given
            What the file says.
        chosen
            The keys to show; without any, all of them.
        examples
            What is shown of keys that have no default.
        switched_on
            Whether defaults are.
        """
        for key in keys_of(model):
            if chosen and key.name not in chosen:
                continue
            mark, value, comment = "# ", key.default, key.comment
            if key.name in given:
                mark, value = "", given[key.name]
            elif value is None:
                value, comment = (examples or {})[key.name], f"{comment} No default."
            elif switched_on:
                mark = ""
            comment = self.comment(key.name, comment)
            yield from key_lines(f"{mark}{key.name} = {toml_text(value)}", comment)

    def comment(self, name: str, comment: str) -> str:
        """Return a key's comment; nothing in the short file if it was said of such a key before."""
        again = (name, comment) in self.told and not self.everything
        self.told.add((name, comment))
        return "" if again else comment

    def spans(self) -> list[str]:
        """Return dated spans, switched off."""
        comments = {key.name: key.comment for key in keys_of(Span)}
        lines = note_lines(_ABOUT_SPANS)
        for number, span in enumerate(self.span_examples):
            lines += ["#"] * bool(number) + ["# [[span]]"]
            for name, value in span.items():
                # What a key of a table means stands there.
                comment = comments.pop(name, "")
                known = name.split(".")[0] in TABLES and not name.endswith(".fixed")
                lines += key_lines(f"# {name} = {toml_text(value)}", "" if known else comment)
        return lines
