"""Site files of a calendar sync for tests, and what came of a run."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
from keyring.backend import KeyringBackend

from peers.fake_calendar_server import calendar_at, multistatus
from sites import ID

NOW = np.datetime64("2027-03-20T12:00:00")
# Two days back to four ahead, through a clock change: seven days.
WINDOW = "days_ahead = 4\ndays_behind = 2\n"
ALL = 14


class NoKeyring(KeyringBackend):
    """A keyring without anything in it."""

    priority = 1

    def get_password(self, service, username):
        return None

    def set_password(self, service, username, password):
        raise AssertionError("nothing is stored by a sync")

    def get_credential(self, service, username):
        return None


def write_site(url, *, path="site.toml", settings="", sync=WINDOW, name="Test house", id_=ID):
    text = (
        f'id = "{id_}"\nname = "{name}"\n[place]\nlatitude = 52.09\nlongitude = 5.12\n'
        f'zone = "Europe/Amsterdam"\n{settings}\n[sync]\nurl = "{url}"\n{sync}'
    )
    Path(path).write_text(text)


def counted(ran):
    """Return the summary's numbers: added, changed, removed, kept, conflicted."""
    line = re.search(
        r"(\d+) added, (\d+) changed, (\d+) removed, (\d+) kept, (\d+) conflicted",
        " ".join(ran.out.split()),
    )
    return tuple(map(int, line.groups()))


def calendar_that(answer):
    """Return a server's answers: an empty calendar, and what ``answer`` gives to the rest."""

    def decide(asked):
        if asked.method == "PROPFIND":
            return multistatus(calendar_at("/hens/"))
        if asked.method == "REPORT":
            return multistatus()
        return answer(asked)

    return decide
