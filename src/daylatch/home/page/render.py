"""The page as HTML, with what it loads besides: a style, a script and an icon of this program."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, NamedTuple

from daylatch.cautions import CAUTION, NO_WEATHER
from daylatch.paper.pages.templates import get_template

if TYPE_CHECKING:
    from collections.abc import Sequence

    from daylatch.home.page.page import Page

_ROOM = "daylatch.home.page"
_TYPES = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}
ASSETS = ("home.css", "home.js", "icon.svg")
WORKER = "worker.js"
HEADERS = {
    "Content-Security-Policy": "default-src 'none'; style-src 'self'; script-src 'self'; "
    "img-src 'self'; connect-src 'self'; worker-src 'self'; form-action 'self'; "
    "base-uri 'none'; frame-ancestors 'none'",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Robots-Tag": "noindex",
}
"""What goes with every page: nothing from elsewhere, nothing inside others, and the address stays
here."""


class Asset(NamedTuple):
    """A file that pages load: its content and its media type."""

    content: bytes
    media_type: str


class Form(NamedTuple):
    """A button on a page of a few sentences.

    Attributes
    ----------
    address : str
        Where it leads, from the home's beginning on; empty for the same page.
    words : str
        What stands on it.
    fields : sequence of (str, str)
        What it sends.
    """

    address: str
    words: str
    fields: Sequence[tuple[str, str]] = ()


class Message(NamedTuple):
    """A page of a few sentences.

    Attributes
    ----------
    title : str
        What it is about.
    words : sequence of str
        The sentences.
    forms : sequence of Form
        What can be done.
    links : sequence of (str, str)
        Addresses from the home's beginning on, and what they are called.
    back : str
        That of the page at home; empty for none.
    """

    title: str
    words: Sequence[str] = ()
    forms: Sequence[Form] = ()
    links: Sequence[tuple[str, str]] = ()
    back: str = ""


def render_page(page: Page) -> bytes:
    """Return the page at home, as it stands at ``/house/ID``."""
    root, caution = "..", f"{CAUTION} {NO_WEATHER}"
    return _rendered(
        "home.html", root, page=page, base=f"{root}/house/{page.house}", caution=caution
    )


def render_message(message: Message, root: str) -> bytes:
    """Return a page of a few sentences.

    Parameters
    ----------
    message
        What it says.
    root
        How it leads to the home's beginning, which need not be its host's.
    """
    return _rendered("message.html", root, message=message, caution=CAUTION)


@cache
def asset_named(name: str) -> Asset:
    """Return a file of `ASSETS`, or the worker."""
    content = (files(_ROOM) / "assets" / name).read_bytes()
    return Asset(content, _TYPES[name[name.rindex(".") :]])


@cache
def version_of(name: str) -> str:
    """Return what stands behind the address of one of `ASSETS`: of another content another."""
    return hashlib.sha256(asset_named(name).content).hexdigest()[:16]


def _rendered(name: str, root: str, **what: object) -> bytes:
    def asset(file: str) -> str:
        return f"{root}/assets/{file}?{version_of(file)}"

    return get_template(name, _ROOM).render(root=root, asset=asset, **what).encode()
