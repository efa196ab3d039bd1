"""The norms that a house can be compared with, and which of them a site file chooses.

All of them stand in ``norms.toml``, each with its source, scope and year. They are advice, or law
for others: what holds for a keeper's own flock, local law says.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, NamedTuple

from pydantic import AfterValidator, Field, WithJsonSchema

from daylatch.site.messages import suggest
from daylatch.site.table import LONG_NIGHT_H, SHORT_NIGHT_H, Table
from daylatch.site.values.measures import BOTH, UNITS, Measures, amount_text, figure_text

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from daylatch.site.values.ways import Ways

PUBLISHED, SECONDARY = "published", "secondary"
COMMON_PRACTICE, FROM_MEMORY = "common practice", "from memory"
_MARK_WORDS = {
    PUBLISHED: "",
    SECONDARY: ", read where it is quoted",
    FROM_MEMORY: ", from memory: confirm it",
}


@dataclass(frozen=True)
class Norm:
    """One norm.

    Attributes
    ----------
    name : str
        As a site file names it.
    requirement : str
        What it is a norm of.
    figures : tuple of float
        As published, in ``unit``; empty if it goes by size.
    unit : str
        One of `daylatch.site.values.measures.UNITS`.
    source : str
        Empty for common practice.
    scope, year, mark : str
        Where and for whom it was written, when, and how well it is known.
    per : int
        For how many birds the figures are.
    by_size : mapping
        Figures by size class, as published.
    hot : tuple of float
        By what heat multiplies it, at the least and at the most; empty if its source does not say.
    one_part_in : int
        Of littered floor: it is also at least one part in so many of the floor; 0 if not.
    status : str
        What became of a law that no longer holds where it was made; else empty.
    """

    name: str
    requirement: str
    unit: str
    scope: str
    year: str
    mark: str
    figures: tuple[float, ...] = ()
    source: str = ""
    per: int = 1
    by_size: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    hot: tuple[float, ...] = ()
    one_part_in: int = 0
    status: str = ""

    def base_figures(self, size: str | None = None) -> tuple[float, ...] | None:
        """Return the figures for a bird in the unit's base; None if it has none for that size."""
        figures = self.by_size.get(size or "") if self.by_size else self.figures
        if figures is None:
            return None
        return tuple(figure * UNITS[self.unit].factor / self.per for figure in figures)

    def wanted_text(self, size: str | None = None, measures: Measures = BOTH) -> str:
        """Return the figures, always as they are published too; empty without any."""
        figures = self.base_figures(size)
        if figures is None:
            return ""
        unit = UNITS[self.unit]
        if self.requirement == "nest_box":
            return measures.published_sides(figures, self.unit)
        if self.per == 1:
            return measures.published(figures, self.unit) + self._part_text()
        return f"{self._published_text()}, {measures.amount(figures, unit.base)} each"

    def asks_text(self, size: str | None = None, measures: Measures = BOTH) -> str:
        """Return what it asks for, to follow "asks for"; empty without figures for that size."""
        figures = self.base_figures(size)
        if figures is None:
            return ""
        if self.requirement == "nest_box":
            return f"at least {measures.published_sides(figures, self.unit)}"
        if self.requirement == "birds_per_nest":
            *good, most = figures
            better = f", better {figure_text(good[0])}" if good else ""
            return f"at most {amount_text((most,), self.unit)} a box{better}"
        published = f" ({self._published_text()})" if self.per > 1 else ""

        def shown(*values: float) -> str:
            if self.per == 1:
                return measures.published(values, self.unit)
            return measures.amount(values, UNITS[self.unit].base)

        if self.requirement in ("feed", "water"):
            return f"{shown(*figures)} a bird and day{published}"
        least, *more = map(shown, figures)
        better = f", better {more[0]}" if more else ""
        return f"at least {least} a bird{better}{published}{self._part_text()}"

    def _part_text(self) -> str:
        return f" and 1/{self.one_part_in} of the floor" if self.one_part_in else ""

    def _published_text(self) -> str:
        return f"{amount_text(self.figures, self.unit)} for {self.per} birds"

    def source_text(self) -> str:
        """Return the source with its year, what it was written for, and what became of it."""
        if self.mark == COMMON_PRACTICE:
            return f"{COMMON_PRACTICE}, no source; {self.scope}"
        year = "" if self.year in self.source else self.year
        source = self.source + _MARK_WORDS[self.mark]
        return "; ".join(filter(None, (source, self.scope, year, self.status)))


@cache
def all_norms() -> Mapping[str, Norm]:
    """Return every norm by its name, in the order of the file."""
    text = resources.files("daylatch.site").joinpath("norms.toml").read_text(encoding="utf-8")
    return {entry["name"]: _norm(entry) for entry in tomllib.loads(text)["norm"]}


def _norm(entry: dict[str, Any]) -> Norm:
    sizes = {size: tuple(figures) for size, figures in entry.get("by_size", {}).items()}
    lists = {key: tuple(entry.get(key, ())) for key in ("figures", "hot")}
    return Norm(**(entry | lists | {"by_size": sizes}))


@cache
def names_of(requirement: str) -> tuple[str, ...]:
    """Return the names of a requirement's norms."""
    return tuple(norm.name for norm in all_norms().values() if norm.requirement == requirement)


def _check(name: str, requirement: str) -> str:
    names = names_of(requirement)
    if name in names:
        return name
    known = ", ".join(names)
    other = all_norms().get(name)
    if other is not None:
        raise ValueError(
            f"is a norm of {other.requirement}, not of {requirement}: write one of {known}"
        )
    meant = suggest(name, names)
    raise ValueError(f"no such norm{f'{meant} Write' if meant else ': write'} one of {known}")


class Measured(NamedTuple):
    """What a norm is compared with.

    Attributes
    ----------
    table : str
        Of the site file.
    keys : tuple of str
        Any of which will do.
    """

    table: str
    keys: tuple[str, ...]


def _of(
    requirement: str, table: str, *keys: str
) -> tuple[AfterValidator, WithJsonSchema, Measured]:
    """Return what takes the names of a requirement's norms only, their schema, and what they need.

    Parameters
    ----------
    requirement
        As the norms have it.
    table, keys
        What they are compared with.
    """
    schema = {"type": "string", "enum": list(names_of(requirement))}
    return (
        AfterValidator(lambda name: _check(name, requirement)),
        WithJsonSchema(schema),
        Measured(table, keys),
    )


_FLOOR = ("floor_m2", "floor_ft2")
_LITTERED = ("littered_share", "littered_m2", "littered_ft2")
BY_SIZE = {"feed": "feed-by-size"}
"""Norms by size that hold where the file chooses none and gives a size of which they know."""


class Norms(Table):
    """Which norm holds for each requirement, and from when a night counts as another case."""

    ABOUT: ClassVar[str] = (
        "What `daylatch fit` compares the house with: for each need of the birds one norm, by its "
        "name. docs/reference/norms.md says what each asks for."
    )

    floor_asleep: Annotated[str, *_of("floor_asleep", "house", *_FLOOR)] = Field(
        "floor-2-to-4-sq-ft", description="House floor for each bird, to sleep."
    )
    floor_awake: Annotated[str, *_of("floor_awake", "house", *_FLOOR)] = Field(
        "waking-10-sq-ft", description="Space for each bird to be awake in: house and joined run."
    )
    run_floor: Annotated[str, *_of("run_floor", "run", *_FLOOR)] = Field(
        "run-10-sq-ft", description="Run floor for each bird."
    )
    roost: Annotated[str, *_of("roost", "house", "roost_m", "roost_ft")] = Field(
        "roost-15-cm", description="Length of roost for each bird."
    )
    birds_per_nest: Annotated[str, *_of("birds_per_nest", "house", "nest_boxes")] = Field(
        "nest-for-4-to-5", description="How many birds share a nest box."
    )
    nest_box: Annotated[str, *_of("nest_box", "house", "nest_box_cm", "nest_box_in")] = Field(
        "box-12-12-12-in", description="Size of a nest box."
    )
    litter: Annotated[str, *_of("litter", "house", *_LITTERED)] = Field(
        "litter-250-cm2", description="Littered floor for each bird."
    )
    feed: Annotated[str, *_of("feed", "flock", "birds")] = Field(
        "feed-25-lb-per-100",
        description="Feed for each bird and day. If left out, feed-by-size for the sizes that it "
        "knows (size under [flock]).",
    )
    water: Annotated[str, *_of("water", "flock", "birds")] = Field(
        "water-180-to-320-l-per-1000", description="Water for each bird and day."
    )
    awake_h: Annotated[float, Field(ge=0, le=24)] = Field(
        2.0,
        description='More light than this behind a shut door makes a night "awake inside" [h] '
        "(this program's choice, no source).",
    )
    long_night_h: Annotated[float, Field(ge=0, le=24)] = Field(
        LONG_NIGHT_H,
        description="A longer lock-in than this counts as long [h] (this program's choice, no "
        "source).",
    )
    short_night_h: Annotated[float, Field(ge=0, le=24)] = Field(
        SHORT_NIGHT_H,
        description="A shorter night than this counts as short [h] (this program's choice, no "
        "source).",
    )

    def told(self, ways: Ways) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        for key, about in type(self).model_fields.items():
            if key not in self.model_fields_set:
                continue
            match key:
                case "awake_h":
                    yield (
                        f"more than {self.awake_h:g} h of light behind a shut door is awake inside"
                    )
                case "long_night_h":
                    yield f"a lock-in of more than {self.long_night_h:g} h is long"
                case "short_night_h":
                    yield f"a night of less than {self.short_night_h:g} h is short"
                case _:
                    norm = self.norm(key)
                    what = (about.description or key).partition(".")[0]
                    wanted = norm.wanted_text(None, ways.measures) or "which goes by size"
                    words = [f"{norm.name}, {wanted}"]
                    if norm.status:
                        words.append(f"retired: {norm.status}")
                    yield f"{what}: {'; '.join(words)}"

    def norm(self, requirement: str, size: str | None = None) -> Norm:
        """Return the norm that holds for a requirement, and for birds of a size."""
        by_size = all_norms().get(BY_SIZE.get(requirement, ""))
        if by_size and requirement not in self.model_fields_set and size in by_size.by_size:
            return by_size
        return all_norms()[getattr(self, requirement)]


MEASURED = {
    requirement: measured
    for requirement, about in Norms.model_fields.items()
    for measured in about.metadata
    if isinstance(measured, Measured)
}
"""What each norm is compared with, by its requirement."""
