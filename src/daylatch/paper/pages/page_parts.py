"""What a long page is put together from: paragraphs, lists, pictures and tables."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar, NamedTuple


@dataclass(frozen=True)
class Paragraph:
    """A paragraph."""

    kind: ClassVar[str] = "text"
    text: str


@dataclass(frozen=True)
class Entries:
    """Labels, each with its text."""

    kind: ClassVar[str] = "list"
    entries: list[tuple[str, str]]


@dataclass(frozen=True)
class Chart:
    """A picture within the page, with what it says in words."""

    kind: ClassVar[str] = "chart"
    title: str
    words: str
    caption: str
    data_url: str
    width: int
    height: int


@dataclass(frozen=True)
class Column:
    """A column of a table; its style is "number", "date", "verdict", "long" or none."""

    title: str
    style: str = ""


@dataclass(frozen=True)
class PageTable:
    """A table whose first column names its rows."""

    kind: ClassVar[str] = "table"
    caption: str
    columns: tuple[Column, ...]
    rows: list[tuple[str, ...]]


class DayCell(NamedTuple):
    """What stands in one or more columns of a day; the first of a month begins a group."""

    text: str
    span: int = 1
    begins: bool = False


@dataclass(frozen=True)
class DayTable:
    """Months side by side, with a row for each day of the month.

    Attributes
    ----------
    caption : str
        What it shows.
    months : list of str
        Above their columns.
    heads : tuple of str
        The columns of each month.
    rows : list of (str, list of DayCell)
        The day of the month, and what stands in its columns.
    """

    kind: ClassVar[str] = "days"
    caption: str
    months: list[str]
    heads: tuple[str, ...]
    rows: list[tuple[str, list[DayCell]]] = field(default_factory=list)


Part = Paragraph | Entries | Chart | PageTable | DayTable


@dataclass(frozen=True)
class Section:
    """A part of the page with a heading."""

    anchor: str
    title: str
    parts: list[Part]
