"""What tells this program's own files from all others, so that nobody else's is ever replaced.

Each form says once what its files begin with, or name as their maker; the module of the form calls
the result ``wrote``.
"""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    Tells = Callable[[bytes], bool]

_HEAD_BYTES = 1000
DIARY_ID = 0x444C4459
"""What tells a diary from any other SQLite database (bytes 68 to 71 of its file)."""
DIARY_HEAD_BYTES = 100
"""The length of the head of such a file."""


def first_line_is(line: str) -> Tells:
    """Return what tells a text by its whole first line."""
    return lambda content: content.split(b"\n", 1)[0].rstrip(b"\r") == line.encode()


def header_is(columns: Sequence[str]) -> Tells:
    """Return what tells a CSV file by its header, to the letter."""
    first = ",".join(columns).encode() + b"\r\n"
    return lambda content: content.startswith(first)


def generator_is(name: str) -> Tells:
    """Return what tells a JSON file by the generator that it names."""

    def wrote(content: bytes) -> bool:
        try:
            data = json.loads(content)
        except (ValueError, RecursionError):
            return False
        found = data.get("generator") if isinstance(data, dict) else None
        return isinstance(found, dict) and found.get("name") == name

    return wrote


def page_is_by(generator: str) -> Tells:
    """Return what tells a page by its generator, named before any text of a keeper's."""
    mark = f'<meta name="generator" content="{generator}">'.encode()
    return lambda content: mark in content[:_HEAD_BYTES].partition(b"<title>")[0]


def pdf_is_by(creator: str) -> Tells:
    """Return what tells a PDF file by its creator."""
    mark = f"/Creator ({creator}".encode()
    return lambda content: content.startswith(b"%PDF") and mark in content


def calendar_is_by(prodid: str) -> Tells:
    """Return what tells a calendar (RFC 5545) by its product identifier."""
    mark = f"PRODID:{prodid}".encode()

    def wrote(content: bytes) -> bool:
        # What stands before the first component. No text of a keeper's can pass for a line of it:
        # line breaks in a text are escaped, and a folded line goes on behind a space.
        head = re.split(rb"\r?\nBEGIN:", content, maxsplit=1)[0].splitlines()
        return head[:1] == [b"BEGIN:VCALENDAR"] and mark in head

    return wrote


def is_diary(content: bytes) -> bool:
    """Return whether a file is a diary (sqlite.org, "Database File Format"), by its head."""
    return content.startswith(b"SQLite format 3\0") and content[68:72] == DIARY_ID.to_bytes(4)
