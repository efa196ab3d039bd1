"""Make the picture of the page at home for the docs: a demo house on an evening, on a phone.

``python tools/page_picture.py``, with Chromium. It is not part of ``tools/generate.py``, since what
a browser draws is another on each machine.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))

from peers.browser import visiting  # noqa: E402 - from the tests
from peers.home_process import Home, running_home  # noqa: E402 - as above

EVENING = "2027-01-14T17:14:00"
PHONE = {"viewport": {"width": 380, "height": 900}, "device_scale_factor": 1.5}
WATCH = '\n[home]\nport = 0\n[watch]\nexpects = ["head count", "door"]\n'


def main() -> None:
    site = (ROOT / "schedules" / "alder-row.toml").read_text()
    with tempfile.TemporaryDirectory() as folder:
        home = Home(Path(folder), site + WATCH)
        home.clock.set("2027-01-14T07:40:00")
        with running_home(home):
            home.report(1, "opened")
            home.go_to(EVENING)
            home.report(2, "shut")
            with visiting(home.url, **PHONE) as page:
                page.goto(home.url)
                page.get_by_role("button", name="Last one in just now", exact=True).click()
                page.locator("#said").get_by_text("Noted").wait_for()
                page.wait_for_timeout(2500)
                page.screenshot(path=ROOT / "docs" / "images" / "page.png")


if __name__ == "__main__":
    main()
