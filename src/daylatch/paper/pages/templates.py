"""The frames of pages: templates that hold no text of a keeper's, and escape all that comes in."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jinja2 import Environment, Template


def get_template(name: str) -> Template:
    """Return a template of the folder ``pages/templates`` by the name of its file."""
    return _environment().get_template(name)


@lru_cache(maxsize=1)
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined  # noqa: PLC0415 - an extra

    # Whatever a template is called, what comes in is text: a site named <script> stays text.
    environment = Environment(
        loader=PackageLoader("daylatch.paper.pages"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["pt"] = "{:.2f}pt".format
    environment.filters["pct"] = "{:.3%}".format
    return environment
