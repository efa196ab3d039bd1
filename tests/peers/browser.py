"""A real headless browser for pages, and what every page must keep to in it."""

from __future__ import annotations

import atexit
import shutil
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from programs import needs

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, Page, Playwright

FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
CHROMIUM = shutil.which("chromium")
needs_chromium = needs("chromium")
AXE = Path(__file__).parent / "node" / "node_modules" / "axe-core" / "axe.min.js"


@cache
def _tools() -> Playwright:
    from playwright.sync_api import sync_playwright  # noqa: PLC0415 - not needed to skip

    tools = sync_playwright().start()
    atexit.register(tools.stop)
    return tools


@cache
def running(*more: str) -> Browser:
    """Return the browser of this process, started when it is first asked for, with more flags."""
    browser = _tools().chromium.launch(executable_path=CHROMIUM, args=[*FLAGS, *more])
    atexit.register(browser.close)
    return browser


@contextmanager
def visiting(
    origin: str, *, expected: tuple[str, ...] = (), flags: tuple[str, ...] = (), **context: object
) -> Iterator[Page]:
    """Give a window that has visited nothing yet; its context shares nothing with others.

    Whatever it says, or asks for elsewhere than at an origin, fails the test, but for what begins
    with something expected.
    """
    made = running(*flags).new_context(**context)
    page = made.new_page()
    said: list[str] = []
    asked: list[str] = []
    made.on("console", lambda message: said.append(f"{message.type}: {message.text}"))
    made.on("weberror", lambda error: said.append(str(error.error)))
    made.on("request", lambda request: asked.append(request.url))
    page.on("dialog", lambda dialog: (said.append(dialog.message), dialog.dismiss()))
    try:
        yield page
    finally:
        made.close()
    assert [one for one in said if not one.startswith(expected or ("\0",))] == []
    assert [url for url in asked if not url.startswith(f"{origin}/")] == []


def faults(page: Page) -> list[str]:
    """Return what axe-core finds wrong with a page for those who cannot see or point (WCAG 2)."""
    page.evaluate(AXE.read_text())
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    assert found["passes"], "it looked at nothing"
    return [
        f"{fault['id']}: {node['html']} {node['failureSummary']}"
        for fault in found["violations"]
        for node in fault["nodes"]
    ]


@contextmanager
def opened(path: Path, width: int = 1200, height: int = 900) -> Iterator[Page]:
    """Open a file in the browser; whatever it says or asks for outside itself fails the test."""
    # A page of its own context shares nothing with those before it.
    page = running().new_page(viewport={"width": width, "height": height})
    said: list[str] = []
    asked: list[str] = []
    page.on("console", lambda message: said.append(f"{message.type}: {message.text}"))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("dialog", lambda dialog: (said.append(dialog.message), dialog.dismiss()))
    page.on("request", lambda request: asked.append(request.url))
    page.goto(path.as_uri())
    try:
        yield page
    finally:
        page.close()
    assert said == []
    outside = [url for url in asked if not url.startswith("data:")]
    assert outside == [path.as_uri()]
