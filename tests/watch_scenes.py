"""Scenes for the watch: a house, what was noted when, and an instant."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np

from daylatch.diary.entries import make_entry
from daylatch.diary.store.rows import Noted
from daylatch.home.watch.look import look
from daylatch.home.watch.scene import Scene
from daylatch.plan.due import exactly
from daylatch.plan.moment import days_around
from daylatch.site.reading.site_file import read_site
from daylatch.site.watch import Watch
from sites import HOUSE

BOTH = ["head count", "door"]


@cache
def site_of(text: str = HOUSE):
    return read_site(text, Path("site.toml").name)


@cache
def due_at(text: str, date: str):
    return exactly(days_around(site_of(text), np.datetime64(f"{date}T12:00:00")))


class Night:
    """An evening and its night at a house, told by minutes from the due closing.

    Parameters
    ----------
    date
        The flock day, UTC noon of which lies in it.
    text
        The site file.
    watch
        Keys of [watch].
    """

    def __init__(self, date: str = "2027-03-10", text: str = HOUSE, **watch: object) -> None:
        self.due = due_at(text, date)
        self.index = int(np.flatnonzero(self.due.plan.dates == np.datetime64(date))[0])
        self.watch = Watch.model_validate({"expects": BOTH, **watch})
        self.noted: list[Noted] = []
        self.more: dict[str, object] = {}

    @property
    def closes(self) -> np.datetime64:
        return self.due.close_utc[self.index].astype("datetime64[s]")

    @property
    def opens(self) -> np.datetime64:
        return self.due.next_open_utc[self.index].astype("datetime64[s]")

    @property
    def opened(self) -> np.datetime64:
        return self.due.open_utc[self.index].astype("datetime64[s]")

    def at(self, minutes: float) -> np.datetime64:
        return self.closes + np.timedelta64(round(minutes * 60), "s")

    def says(
        self,
        what: str,
        minutes: float | np.datetime64,
        value: str = "",
        *,
        by: str = "door",
        received: float | None = None,
        within: str = "",
        stamped_by: str = "server",
    ) -> Night:
        """Note something; by the door it is a report, received at that moment or at another."""
        at = minutes if isinstance(minutes, np.datetime64) else self.at(minutes)
        entry = make_entry(at, what, value, by=by, stamped_by=stamped_by, within=within)
        entered = at if received is None else self.at(received)
        number = len(self.noted) + 1
        self.noted.append(Noted(number, entry, entered, None, True, by == "door"))
        return self

    def counted(self, what: str, minutes: float, value: str = "") -> Night:
        return self.says(what, minutes, value, by="keeper")

    def scene(self, at: np.datetime64) -> Scene:
        """Return what can be known at an instant."""
        noted = [one for one in self.noted if one.entered_utc <= at]
        reported = any(one.is_report for one in noted)
        volts = [one for one in noted if one.entry.what == "battery_v"]
        known = {"has_reported": reported, "volts": volts} | self.more
        return Scene(self.due, self.watch, noted, **known)

    def found(self, minutes: float | np.datetime64) -> dict[str, str]:
        """Return what is wrong, by its key without the date: the kind."""
        at = minutes if isinstance(minutes, np.datetime64) else self.at(minutes)
        return {
            trouble.key.split()[0]: trouble.kind.value
            for trouble in look(self.scene(at), at).troubles
        }

    def words(self, minutes: float) -> str:
        at = self.at(minutes)
        return " ".join(trouble.words for trouble in look(self.scene(at), at).troubles)
