"""Pages of paper, and how much room text takes on them; all lengths in points."""

from __future__ import annotations

import logging
import unicodedata
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from fpdf import FPDF
from fpdf.bidi import BidiParagraph, auto_detect_base_direction
from fpdf.enums import MethodReturnValue
from fpdf.fonts import TTFFont

from daylatch.wording import unbroken_times

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from daylatch.paper.pages.papers import Paper

_FAMILY = "page"
_FONT_FILES = {"": "DejaVuSans.ttf", "B": "DejaVuSans-Bold.ttf"}
# Bidirectional classes of Unicode (UAX 9).
_RIGHT_TO_LEFT = {"R", "AL", "AN"}


@contextmanager
def new_document(paper: Paper) -> Iterator[FPDF]:
    """Yield a document with one empty page, and with fonts that hold most alphabets."""
    document = FPDF(unit="pt", format=(paper.width, paper.height))
    # Otherwise {nb} in a keeper's words would stand for the number of pages.
    document.alias_nb_pages("")
    document.set_auto_page_break(False)
    document.c_margin = 0
    folder = _font_folder()
    for style, file in _FONT_FILES.items():
        document.add_font(_FAMILY, style, folder / file)
    document.add_page()
    try:
        yield document
    finally:
        for font in _fonts(document):
            font.close()


def choose_font(document: FPDF, size: float, *, bold: bool = False) -> None:
    """Set the font in which the next text is measured or painted."""
    document.set_font(_FAMILY, "B" if bold else "", size)


def unknown_characters(document: FPDF, texts: Iterable[str]) -> list[str]:
    """Return the characters that the fonts lack, each once."""
    found = {character for text in texts for character in text if character != "\n"}
    fonts = _fonts(document)
    return sorted(c for c in found if not all(ord(c) in font.cmap for font in fonts))


def _fonts(document: FPDF) -> list[TTFFont]:
    return [font for font in document.fonts.values() if isinstance(font, TTFFont)]


def _font_folder() -> Path:
    """Return where matplotlib keeps the fonts that it ships (DejaVu: free to embed)."""
    # It would speak of its own affairs, such as where it keeps its settings.
    logging.getLogger("matplotlib").setLevel(logging.CRITICAL)
    import matplotlib  # noqa: PLC0415 - after the line above

    return Path(matplotlib.get_data_path(), "fonts", "ttf")


class Ruler:
    """Measures and breaks text as the document would.

    Parameters
    ----------
    document
        Whose fonts are taken.
    spread
        By what the width of text is multiplied before it is broken into lines, for whatever sets
        it a little wider than the document.
    """

    def __init__(self, document: FPDF, spread: float = 1.0) -> None:
        self._document = document
        self._spread = spread
        self.lines = cache(self._lines)
        self.width = cache(self._width)

    def _lines(self, text: str, size: float, width: float, bold: bool = False) -> tuple[str, ...]:
        """Return a text broken into lines, each as it is seen; words too long for one are cut."""
        choose_font(self._document, size, bold=bold)
        seen = []
        for paragraph in unbroken_times(text).split("\n"):
            lines = self._document.multi_cell(
                width / self._spread, size, paragraph, dry_run=True, output=MethodReturnValue.LINES
            )
            assert isinstance(lines, list)
            seen += _as_seen(paragraph, lines)
        return tuple(seen)

    def _width(self, text: str, size: float, bold: bool = False) -> float:
        choose_font(self._document, size, bold=bold)
        return float(self._document.get_string_width(text))


def _as_seen(paragraph: str, lines: list[str]) -> list[str]:
    """Return lines with their letters from left to right, however their alphabet runs."""
    if not any(unicodedata.bidirectional(character) in _RIGHT_TO_LEFT for character in paragraph):
        return lines
    way = auto_detect_base_direction(paragraph)
    return [BidiParagraph(line, base_direction=way).get_reordered_string() for line in lines]
