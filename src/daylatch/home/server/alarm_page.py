"""The page behind the link in a message: one alarm, and one button to acknowledge it."""

from __future__ import annotations

import base64
import hashlib
from html import escape
from typing import TYPE_CHECKING

from daylatch.home.watch.kinds import AGAIN_MIN, PACES
from daylatch.home.watch.words import CAUTION

if TYPE_CHECKING:
    from daylatch.home.watch.alarms import Alarm

_STYLE = """\
:root { color-scheme: light dark; }
body { font: 1.15rem/1.5 system-ui, sans-serif; margin: 2rem auto; max-width: 34rem;
  padding: 0 1rem; }
h1 { font-size: 1.4rem; }
button { font: inherit; font-weight: bold; padding: 0.9rem 1.4rem; width: 100%;
  border: 0.15rem solid; border-radius: 0.6rem; background: none; color: inherit; }
button:focus-visible { outline: 0.25rem solid; outline-offset: 0.2rem; }
.small { font-size: 0.95rem; }
"""
HEADERS = {
    "Content-Security-Policy": "default-src 'none'; style-src 'sha256-"
    + base64.b64encode(hashlib.sha256(_STYLE.encode()).digest()).decode()
    + "'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Robots-Tag": "noindex",
    "Cache-Control": "no-store",
}
"""What goes with every page: no script, nothing from elsewhere, and the address stays here."""


def alarm_page(house: str, alarm: Alarm) -> str:
    """Return the page of an alarm that stands."""
    if not alarm.is_urgent:
        effect = "does not come again while it lasts."
    else:
        effect = f"comes again after {AGAIN_MIN} minutes, until a report or a head count clears it."
    if alarm.is_acknowledged:
        effect = f"Somebody is looking after it. It {effect}"
    else:
        effect = f"If you press this, it {effect}"
    button = "I am looking after it" if alarm.is_urgent else "I know of it"
    return page(
        house,
        f"<h1>{escape(house)}: {escape(PACES[alarm.kind].title)}</h1>\n"
        f"<p>{escape(alarm.words)}</p>\n"
        f"<p>{escape(effect)}</p>\n"
        f'<form method="post"><button>{escape(button)}</button></form>\n'
        f'<p class="small">This moves no door. {escape(CAUTION)}</p>\n',
    )


def gone_page() -> str:
    """Return the page of an alarm that is over, or never was."""
    return page(
        "daylatch",
        f"<h1>This alarm is over</h1>\n<p>Or the link is not whole. {escape(CAUTION)}</p>\n",
    )


def page(title: str, body: str) -> str:
    """Return a page; its body is HTML."""
    return (
        '<!doctype html>\n<html lang="en">\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{_STYLE}</style>\n<main>\n{body}</main>\n</html>\n"
    )
