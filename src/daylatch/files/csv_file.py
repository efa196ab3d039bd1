"""What all CSV files (RFC 4180) have in common: how they are laid out, and what a cell may hold."""

from __future__ import annotations

import csv
import io
import unicodedata
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

# What makes a spreadsheet read a cell as a formula, also behind blanks and in full width.
_FORMULA = frozenset("=+-@")


def lay_out(header: Sequence[str], rows: Iterable[Sequence[object]], caution: str) -> bytes:
    """Return a file: UTF-8, CRLF.

    Parameters
    ----------
    header
        Its columns, of which the last is for the caution.
    rows
        The cells of the other columns.
    caution
        What closes the first row alone.
    """
    return lay_out_plain(
        header, ([*row, "" if index else caution] for index, row in enumerate(rows))
    )


def lay_out_plain(header: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    """Return a file without a caution: UTF-8, CRLF."""
    file = io.StringIO(newline="")
    writer = csv.writer(file, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows(rows)
    return file.getvalue().encode()


def defuse(text: str) -> str:
    """Return a cell that no spreadsheet takes for a formula: an apostrophe goes before it."""
    first = unicodedata.normalize("NFKC", text.lstrip()[:1])
    return f"'{text}" if first in _FORMULA or text.startswith(("'", "\t", "\r")) else text


def fuse(cell: str) -> str:
    """Return the text of a cell that `defuse` made."""
    return cell.removeprefix("'")
