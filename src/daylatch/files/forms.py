"""A form: one way in which a result is written, such as CSV.

Which forms there are stands in `daylatch.commands.forms`, a line each.
"""

from __future__ import annotations

import importlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol, cast

if TYPE_CHECKING:
    from collections.abc import Callable


class Writer(Protocol):
    """What the module of a form offers."""

    render: Callable[..., Any]
    """Makes the content of a file from a result."""
    wrote: Callable[[bytes], bool]
    """Whether a content was made by ``render``: see `daylatch.files.own`."""


@dataclass(frozen=True)
class Form:
    """One form of one subject.

    Attributes
    ----------
    name : str
        What ``--to`` takes.
    endings : tuple of str
        What the name of such a file may end in, with its dot; none if that says nothing.
    module : str
        Where it is written, a `Writer`; imported when it is used.
    has_id : bool
        Whether its files carry the id of their house.
    is_calendar : bool
        Whether its files are calendars, whose entries outlive the file.
    needs_pictures : bool
        Whether it takes the libraries of the extra ``pictures``.
    """

    name: str
    endings: tuple[str, ...]
    module: str
    has_id: bool = False
    is_calendar: bool = False
    needs_pictures: bool = False

    def writer(self) -> Writer:
        """Return the module that writes it."""
        return cast("Writer", importlib.import_module(self.module))
