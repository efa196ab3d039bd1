"""The frames of pages: templates that hold no text of a keeper's, and escape all that comes in."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

from daylatch.wording import unbroken_times

if TYPE_CHECKING:
    from jinja2 import Environment, Template


_CODE = re.compile("`([^`]*)`")
_DATE = re.compile(r"\d{4}-\d\d(-\d\d)?")


def get_template(name: str, room: str = "daylatch.paper.pages") -> Template:
    """Return a template by the name of its file, from the folder ``templates`` of a room."""
    return _environment(room).get_template(name)


def _whole_dates(text: str) -> str:
    """Return a text as markup, escaped, in which no line breaks within a date."""
    from markupsafe import Markup, escape  # noqa: PLC0415 - an extra

    whole = unbroken_times(text)
    return Markup(_DATE.sub(r'<span class="date">\g<0></span>', str(escape(whole))))


def _code(text: str) -> str:
    """Return a text as markup, escaped, in which what stands between backticks is code."""
    from markupsafe import Markup, escape  # noqa: PLC0415 - an extra

    return Markup(_CODE.sub(r"<code>\1</code>", str(escape(text))))


def _whole_times(value: object) -> object:
    """Return what comes in, in whose text no line breaks within a time of day."""
    return unbroken_times(value) if type(value) is str else value


@cache
def _environment(room: str) -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined  # noqa: PLC0415 - an extra

    # Whatever a template is called, what comes in is text: a site named <script> stays text.
    environment = Environment(
        loader=PackageLoader(room),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_whole_times,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["whole_dates"] = _whole_dates
    environment.filters["code"] = _code
    environment.filters["pt"] = "{:.2f}pt".format
    environment.filters["pct"] = "{:.3%}".format
    return environment
