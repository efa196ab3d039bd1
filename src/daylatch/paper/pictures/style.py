"""The looks of all pictures, and what they share: page, texts, key and panels.

A picture is an A5 page, laid out in points from its lower left corner. Everything on it is placed
here, not by matplotlib's own axes, so that a text's place and size are known before it is drawn.
"""

from __future__ import annotations

import logging
import unicodedata
import warnings
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

import matplotlib as mpl
import numpy as np
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path
from matplotlib.textpath import text_to_path
from matplotlib.transforms import Affine2D

from daylatch.cautions import CAUTION, NO_WEATHER
from daylatch.clock import zone_rules_version

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from matplotlib.transforms import Transform

    Outline = Sequence[Sequence[tuple[float, float]]]
    """Closed loops, each of points."""

WIDTH_IN, HEIGHT_IN = 8.27, 5.83
"""A5 landscape."""
POINTS_PER_IN = 72
WIDTH, HEIGHT = WIDTH_IN * POINTS_PER_IN, HEIGHT_IN * POINTS_PER_IN
MARGIN = 22.0
LEFT, RIGHT = MARGIN + 30, WIDTH - MARGIN
"""Where panels begin and end; hours are written to the left of them [pt]."""

SMALL, NORMAL, ABOUT = 6.5, 7.0, 9.0
"""Sizes of text; none is smaller [pt]."""
TITLE_SIZES = (15.0, 12.0, 10.0, 8.5)
LEADING = 1.28
"""Distance of lines of text, in sizes."""

PAPER, INK, FAINT = "#ffffff", "#17181f", "#5b5d6b"
# From dark to light in even steps of lightness, so that they are told apart without colour.
BANDS = {
    "night": "#141a38",
    "astronomical twilight": "#3b4474",
    "nautical twilight": "#6d779f",
    "civil twilight": "#a9aec6",
    "day": "#f6f1e3",
}
"""The bands of the sky, from night to day."""
OPEN = "#f0a81c"
"""The door's open time; laid over the sky with `OPEN_ALPHA`."""
OPEN_ALPHA = 0.42
WAKING = "#f0a81c"
GAINED, LOST = "#2f86b7", "#f6bd6b"

DOOR: dict[str, Any] = {"facecolor": (OPEN, OPEN_ALPHA), "edgecolor": INK, "linewidth": 0.9}
DOOR_CASING: dict[str, Any] = {"facecolor": "none", "edgecolor": PAPER, "linewidth": 2.4}
SHUT: dict[str, Any] = {"facecolor": (PAPER, 0.72), "edgecolor": INK, "hatch": "xxx"}
EDGE: dict[str, Any] = {"facecolor": "none", "edgecolor": INK, "linewidth": 0.4}

FONT = "DejaVu Sans"
"""Comes with matplotlib, so that it is the same everywhere."""
LOOKS: dict[Any, Any] = {
    "font.family": [FONT],
    "hatch.linewidth": 0.5,
    "path.simplify": False,
    "pdf.fonttype": 42,
    "svg.fonttype": "path",
    "svg.hashsalt": "daylatch",
    "text.parse_math": False,
    "text.usetex": False,
}
# The groups of matplotlib's settings that have a part in a picture.
_TOUCHED = (
    *("agg.", "figure.", "font.", "hatch.", "lines.", "patch.", "path.", "pdf."),
    *("savefig.", "svg.", "text."),
)
# Joiners and variation selectors, which no font needs to draw.
_UNSEEN = frozenset("\ufe0e\ufe0f")


@contextmanager
def looks() -> Iterator[None]:
    """Draw with these looks, whatever matplotlib is set to, and without its own warnings."""
    log = logging.getLogger("matplotlib")
    level = log.level
    with mpl.rc_context(), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        log.setLevel(logging.CRITICAL)
        mpl.rcParams.update(
            {key: value for key, value in mpl.rcParamsDefault.items() if key.startswith(_TOUCHED)}
        )
        mpl.rcParams.update(LOOKS)
        try:
            yield
        finally:
            log.setLevel(level)


class Box(NamedTuple):
    """A place on the page [pt]."""

    left: float
    bottom: float
    width: float
    height: float

    @property
    def top(self) -> float:
        """Its upper end."""
        return self.bottom + self.height

    @property
    def right(self) -> float:
        """Its right end."""
        return self.left + self.width


@dataclass(frozen=True)
class Entry:
    """What the key says of one look: layers of filling, a line, or a mark."""

    label: str
    fills: tuple[dict[str, Any], ...] = ()
    line: dict[str, Any] = field(default_factory=dict)
    mark: dict[str, Any] = field(default_factory=dict)


class Picture(Figure):
    """A page with a picture, and what it says in words.

    Attributes
    ----------
    title, description : str
        The text alternative.
    points : Transform
        From points on the page.
    unknown : set of str
        Characters that the font does not have.
    """

    def __init__(self, title: str, description: str) -> None:
        super().__init__(figsize=(WIDTH_IN, HEIGHT_IN), facecolor=PAPER)
        self.title = title
        self.description = description
        self.points: Transform = Affine2D().scale(1 / POINTS_PER_IN) + self.dpi_scale_trans
        self.unknown: set[str] = set()

    def write(
        self,
        x: float,
        y: float,
        text: str,
        *,
        size: float = NORMAL,
        bold: bool = False,
        colour: str = INK,
        across: str = "left",
        up: str = "baseline",
    ) -> None:
        """Write one line of text at a place [pt]; what stands in it is never read as a formula."""
        self.unknown |= unknown_characters(text, bold=bold)
        self.text(
            x,
            y,
            text,
            transform=self.points,
            fontproperties=_font(size, bold=bold),
            color=colour,
            ha=across,
            va=up,
            parse_math=False,
        )

    def fill(self, box: Box, **looks: Any) -> None:
        """Fill a rectangle."""
        usual: dict[str, Any] = {"transform": self.points, "clip_on": False, "linewidth": 0}
        self.add_artist(Rectangle((box.left, box.bottom), box.width, box.height, **(usual | looks)))

    def line(self, xs: Sequence[float], ys: Sequence[float], **looks: Any) -> None:
        """Draw a line through points."""
        usual: dict[str, Any] = {"color": INK, "linewidth": 0.6}
        usual |= {"transform": self.points, "clip_on": False}
        self.add_artist(Line2D(xs, ys, **(usual | looks)))

    def head(self, name: str, about: str, lines: Sequence[str]) -> float:
        """Write the site's name, what is drawn and more about it; return where room begins [pt]."""
        room = WIDTH - 2 * MARGIN
        titles, size = fitted(name, room, TITLE_SIZES, most=2, bold=True)
        y = HEIGHT - 16
        for title in titles:
            y -= size
            self.write(MARGIN, y, title, size=size, bold=True)
            y -= size * (LEADING - 1)
        y -= ABOUT
        self.write(MARGIN, y, about, size=ABOUT)
        for line in lines:
            texts, size = fitted(line, room, (NORMAL, SMALL), most=2)
            for text in texts:
                y -= size * LEADING
                self.write(MARGIN, y, text, size=size, colour=FAINT)
        return y - 4

    def foot(self, leaves_out: str = NO_WEATHER) -> float:
        """Write the cautions and the version of the zone rules; return where they end [pt].

        Parameters
        ----------
        leaves_out
            What the times take no account of.
        """
        text = f"{CAUTION} {leaves_out} Zone rules {zone_rules_version()}."
        y = MARGIN - 8
        for line in reversed(wrapped_to(text, WIDTH - 2 * MARGIN, SMALL)):
            self.write(MARGIN, y, line, size=SMALL, colour=FAINT)
            y += SMALL * LEADING
        return y

    def key(self, bottom: float, entries: Sequence[Entry]) -> float:
        """Show what each look means; return where the key ends [pt]."""
        swatch, gap, between = 15.0, 4.0, 11.0
        rows: list[list[tuple[float, Entry]]] = [[]]
        x = LEFT
        for entry in entries:
            width = swatch + gap + text_width(entry.label, SMALL)
            if x + width > RIGHT and rows[-1]:
                rows.append([])
                x = LEFT
            rows[-1].append((x, entry))
            x += width + between
        y = bottom
        for row in reversed(rows):
            for x, entry in row:
                box = Box(x, y - 1.2, swatch, 7.5)
                for fill in entry.fills:
                    self.fill(box, **fill)
                middle = box.bottom + box.height / 2
                if entry.line:
                    self.line([box.left, box.right], [middle, middle], **entry.line)
                if entry.mark:
                    self.line([box.left + box.width / 2], [middle], **entry.mark)
                self.write(x + swatch + gap, y, entry.label, size=SMALL)
            y += 11.5
        return y


class Panel:
    """A part of the page with days across and a quantity up.

    Parameters
    ----------
    picture
        The page.
    box
        Where on it.
    days
        How many days wide.
    low, high
        What its lower and upper ends stand for.
    """

    def __init__(self, picture: Picture, box: Box, days: int, low: float, high: float) -> None:
        self.picture = picture
        self.box = box
        self.days = days
        self.low, self.high = low, high
        self.data: Transform = (
            Affine2D()
            .translate(0, -low)
            .scale(box.width / days, box.height / (high - low))
            .translate(box.left, box.bottom)
            + picture.points
        )

    def x(self, day: float) -> float:
        """Return where a day begins, counted from the first [pt]."""
        return self.box.left + day * self.box.width / self.days

    def y(self, value: float) -> float:
        """Return where a value stands [pt]."""
        return self.box.bottom + (value - self.low) * self.box.height / (self.high - self.low)

    def shape(self, loops: Outline, name: str, **looks: Any) -> None:
        """Draw a shape given by its outline in days and values, under a name for its group."""
        if not loops:
            return
        usual: dict[str, Any] = {"transform": self.data, "clip_on": False, "linewidth": 0}
        patch = PathPatch(path_of(loops), **(usual | looks))
        # Snapping to pixels would move a day's step.
        patch.set_snap(False)
        patch.set_gid(name)
        self.picture.add_artist(patch)

    def ruled(self, values: Sequence[float], labels: Sequence[str]) -> None:
        """Draw a thin line at each of some values, with its label to the left."""
        for value, label in zip(values, labels, strict=True):
            y = self.y(value)
            if self.low < value < self.high:
                ends = [self.box.left, self.box.right]
                self.picture.line(ends, [y, y], linewidth=0.4, alpha=0.35)
            self.picture.line([self.box.left - 3, self.box.left], [y, y], linewidth=0.5)
            self.picture.write(
                self.box.left - 5, y, label, size=NORMAL, across="right", up="center_baseline"
            )

    def frame(self) -> None:
        """Draw a line round it."""
        left, bottom, right, top = self.box.left, self.box.bottom, self.box.right, self.box.top
        self.picture.line(
            [left, right, right, left, left],
            [bottom, bottom, top, top, bottom],
            solid_joinstyle="miter",
        )

    def bar(self, begin: float, end: float) -> None:
        """Draw a bar along its upper end, from one day to another."""
        self.picture.fill(
            Box(self.x(begin), self.box.top, self.x(end) - self.x(begin), 2.2), facecolor=INK
        )

    def upright(self, day: float, **looks: Any) -> None:
        """Draw a line from its lower to its upper end."""
        self.picture.line([self.x(day)] * 2, [self.box.bottom, self.box.top], **looks)


def path_of(loops: Outline) -> Path:
    """Return one path of closed loops."""
    vertices = np.concatenate([[*loop, loop[0]] for loop in loops]).astype(np.float64)
    codes = np.full(len(vertices), Path.LINETO, Path.code_type)
    ends = np.cumsum([len(loop) + 1 for loop in loops])
    codes[ends - 1] = Path.CLOSEPOLY
    codes[[0, *ends[:-1]]] = Path.MOVETO
    return Path(vertices, codes)


def _font(size: float, *, bold: bool = False) -> FontProperties:
    # By its file, since another of that name may lie on the computer, with other numbers of glyphs.
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return FontProperties(fname=f"{mpl.get_data_path()}/fonts/ttf/{name}", size=size)


def unknown_characters(text: str, *, bold: bool = False) -> set[str]:
    """Return the characters of a text that the font cannot draw."""
    known = _known_characters(bold=bold)
    return {
        character
        for character in text
        if ord(character) not in known
        and character not in _UNSEEN
        and unicodedata.category(character) != "Cf"
    }


@lru_cache
def _known_characters(*, bold: bool) -> frozenset[int]:
    return frozenset(get_font(findfont(_font(NORMAL, bold=bold))).get_charmap())


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Return how wide a line of text is [pt]: how far it advances, so that widths add up."""
    return size * _width_of_one_point(text, bold=bold)


@lru_cache(maxsize=4096)
def _width_of_one_point(text: str, *, bold: bool) -> float:
    width: float
    width, _, _ = text_to_path.get_text_width_height_descent(text, _font(1, bold=bold), False)
    return width


def fitted(
    text: str, room: float, sizes: Sequence[float], *, most: int, bold: bool = False
) -> tuple[list[str], float]:
    """Return lines that fit a width [pt], and the first size at which there are few enough.

    If there are too many even in the last size, the last line is cut short with an ellipsis.
    """
    for size in sizes:
        lines = wrapped_to(text, room, size, bold=bold)
        if len(lines) <= most:
            return lines, size
    rest = " ".join(lines[most - 1 :])
    return [*lines[: most - 1], shortened(rest, room, sizes[-1], bold=bold)], sizes[-1]


def wrapped_to(text: str, room: float, size: float, *, bold: bool = False) -> list[str]:
    """Return a text broken into lines that fit a width [pt]; words too long are broken too."""
    lines, widths = [""], [0.0]
    for word in text.split(" "):
        spaced = f" {word}" if lines[-1] else word
        # Word by word: a word's width is known from before, a line's is not.
        width = text_width(spaced, size, bold=bold)
        if widths[-1] + width <= room:
            lines[-1] += spaced
            widths[-1] += width
            continue
        if lines[-1]:
            lines.append("")
        for character in word:
            if text_width(lines[-1] + character, size, bold=bold) > room:
                lines.append("")
            lines[-1] += character
        widths = [text_width(lines[-1], size, bold=bold)]
    return lines


def shortened(text: str, room: float, size: float, *, bold: bool = False) -> str:
    """Return a text, cut short with an ellipsis if it is wider than there is room [pt]."""
    if text_width(text, size, bold=bold) <= room:
        return text
    while text and text_width(f"{text}…", size, bold=bold) > room:
        text = text[:-1].rstrip()
    return f"{text}…"
