"""The text of a new site file: what a keeper edits, or every table and key there is.

All that is said of a table and its keys comes from its model (`keys`); by hand is only what holds
for the whole file.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from daylatch.site.messages import toml_text
from daylatch.site.starter.examples import span_examples
from daylatch.site.starter.keys import key_lines, keys_of, note_lines
from daylatch.site.table import lists_in
from daylatch.site.tables import SETTING_TABLES, TABLES, Head, Span, table_model
from daylatch.site.values.customs import Customs
from daylatch.site.values.surroundings import Surroundings

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from pydantic import BaseModel

    from daylatch.clock import WallTime
    from daylatch.site.table import Table


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
    with_limits : bool
        Whether limits stand at the same times as the fallbacks.
    least_night_h : int
        Zero for none.
    customs : Customs
        What is usual in its country.
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
    with_limits: bool = False
    least_night_h: int = 0
    customs: Customs = field(default_factory=Customs)

    def limits(self) -> dict[str, dict[str, WallTime | None]]:
        """Return the settings of both movements, by their tables."""
        found = {
            "open": {"fallback": self.fallback_open},
            "close": {"fallback": self.fallback_close},
        }
        if self.with_limits:
            found["open"]["not_before"] = self.fallback_open
            found["close"]["not_after"] = self.fallback_close
        return found


_FIRST_LINE = "A site file of daylatch: one place, one flock, one house, one door."
_HOW_TO_READ = (
    "Lines that begin with # are notes, or settings that you can switch on by taking the # away. "
    "Such a setting shows its default, which holds anyway, or, where it says so, an example."
)
_SHORT = {
    "place": ("latitude", "longitude", "zone"),
    "writing": (),
    "open": (),
    "close": (),
    "day": (),
    "night": (),
    "head_count": (),
    "door": ("works", "clock"),
    "timer": ("tolerance_min", "on", "step_min"),
}
"""The tables of the short file, each with its keys; without any, with all of them.

That of norms joins them where those of a country are given.
"""
_SWITCHED_ON = {*SETTING_TABLES, "door"}
"""The tables whose defaults stand there switched on, to be edited."""

_ABOUT_ID = (
    "Never change the id, and never copy it to another house's file: calendars know the house by "
    "it."
)
_ABOUT_LIMITS = {
    "open": "Nights here can be short, or without the light: not_before keeps the door shut until "
    "a clock time then. The fallback is the same time, so that nothing jumps between a day with "
    "the light and one without: change both together.",
    "close": "So not_after closes the door by a clock time, and the fallback is the same.",
}
_ABOUT_LEAST_NIGHT = (
    "By the light alone nights here get shorter than least_h, which closes the door earlier and "
    "opens it later then."
)
_ABOUT_NORMS = "These are {}; what is not named here has the program's own."
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
    parts = [writer.head(), *map(writer.table, writer.tables), writer.spans()]
    return "\n\n".join("\n".join(part) for part in parts) + "\n"


class _Writer:
    """Writes the parts of one file."""

    def __init__(self, start: Start, everything: bool) -> None:
        self.start = start
        self.everything = everything
        self.around = Surroundings(start.latitude_deg, start.year, start.city or "Utrecht, NL")
        self.span_examples = span_examples(self.around)[: None if everything else 2]
        self.told: set[tuple[str, str]] = set()

    @property
    def tables(self) -> list[str]:
        """The tables that the file shows."""
        if self.everything:
            return list(TABLES)
        return [*_SHORT, *["norms"] * bool(self.start.customs.norms)]

    def head(self) -> list[str]:
        """Return what stands above the first table."""
        lines = [*note_lines(_FIRST_LINE), *note_lines(_HOW_TO_READ)]
        if not self.everything:
            others = ", ".join(name for name in TABLES if name not in self.tables)
            lines += note_lines(
                f"`daylatch new all.toml --all` shows every other table ({others}) and key."
            )
        given = {"id": self.start.id, "name": self.start.name}
        return [*lines, "", *note_lines(_ABOUT_ID), *self.keys(Head, given)]

    def table(self, name: str) -> list[str]:
        """Return a table with what it is about."""
        given: dict[str, Any] = {}
        model = table_model(name)
        about = model.ABOUT
        match name:
            case "place":
                # As exact as they came.
                north, east = self.start.latitude_deg, self.start.longitude_deg
                given = {"latitude": north, "longitude": east, "zone": self.start.zone}
                if self.start.city:
                    about += f" These coordinates are those of {self.start.city} (GeoNames)."
            case "writing":
                given = dict(self.start.customs.writing)
            case "norms" if self.start.customs.norms:
                given = dict(self.start.customs.norms)
                about += f" {_ABOUT_NORMS.format(self.start.customs.whose)}"
            case "open" | "close" if self.start.fallback_open:
                given = self.start.limits()[name]
                if self.start.with_limits:
                    about += f" {_ABOUT_LIMITS[name]}"
            case "night" if self.start.least_night_h:
                given = {"least_h": self.start.least_night_h}
                about += f" {_ABOUT_LEAST_NIGHT}"
        lines = self.keys(
            model,
            given,
            () if self.everything else _SHORT.get(name, tuple(given)),
            model.examples(self.around),
            switched_on=name in _SWITCHED_ON,
        )
        return [*note_lines(about), f"[{name}]", *lines, *self.lists(name, model)]

    def lists(self, table: str, model: type[Table]) -> Iterator[str]:
        """Yield the lists of tables within a table, an entry of each, switched off."""
        for key, entry in lists_in(model).items():
            yield ""
            yield from note_lines(entry.ABOUT)
            yield f"# [[{table}.{key}]]"
            yield from self.keys(entry, {}, examples=entry.examples(self.around))

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
                value, comment = (examples or {})[key.name], f"{comment} An example."
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
