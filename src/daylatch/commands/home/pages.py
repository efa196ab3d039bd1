"""The page of a house, from its files: the diary, the watch, the plan, and papers made of them."""

from __future__ import annotations

import threading
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.clock import get_zone
from daylatch.commands.beside import stamp_of_files
from daylatch.commands.extras import has_pictures
from daylatch.commands.happened.doubts import count_doubts
from daylatch.commands.home.papers import links, made_file
from daylatch.commands.home.seen import audited, due_around, weeks_of
from daylatch.commands.home.source import TELLING
from daylatch.commands.now import any_now_utc, early_clock_words, is_before_rules
from daylatch.console import say
from daylatch.diary.entries import WHATS
from daylatch.diary.store.store import Diary
from daylatch.errors import DaylatchError, PlanError
from daylatch.home.page.page import UNTAP_WITHIN, Found, Notice, Reader, home_page
from daylatch.home.page.present import Present
from daylatch.home.page.render import render_page
from daylatch.home.page.sentences import early_count, headline
from daylatch.home.page.taps import read_tap
from daylatch.home.watch.look import DIARY
from daylatch.home.watch.scene import Scene
from daylatch.plan.moment import moment_at
from daylatch.wording import capital

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from daylatch.commands.home.source import Source
    from daylatch.diary.entries import Entry
    from daylatch.diary.store.rows import Noted
    from daylatch.diary.store.store import Tapped
    from daylatch.home.page.page import Page
    from daylatch.home.page.pages import File
    from daylatch.home.page.taps import Tap
    from daylatch.home.watch.watcher import Watcher
    from daylatch.plan.due import Due
    from daylatch.site.tables import Site

_WAIT_S = 2.0
"""How long somebody at the run waits for a diary that another program writes to [s]."""
_NOBODY = Reader("", may_write=False, form_token="")
_UNREADABLE = "The diary cannot be read just now"
# What the battery says again and again stands in the scene of the watch.
_SHOWN = tuple(what for what in WHATS if what != "battery_v")
_LATELY = np.timedelta64(9, "D")
_AUDIT_HOLDS, _NOTHING_HOLDS = np.timedelta64(10, "m"), np.timedelta64(1, "m")


class _DueKept(NamedTuple):
    """What is due around a date, and of what it was made."""

    of: tuple[object, ...]
    due: Due


class _FileKept(NamedTuple):
    """A paper, and of what it was made."""

    of: tuple[object, ...]
    file: File


class _Audit(NamedTuple):
    """What an audit found, when, and by which site file; or what kept it from being made."""

    site: Site
    made_utc: np.datetime64
    findings: list[tuple[str, str]]
    trouble: str = ""


class HousePages:
    """The page of one house.

    Parameters
    ----------
    source
        The house.
    watcher
        Who watches it.
    wake
        Called when there is something new to look at.
    """

    def __init__(self, source: Source, watcher: Watcher, wake: Callable[[], None]) -> None:
        self.source = source
        self.watcher = watcher
        self.wake = wake
        self._lock = threading.Lock()
        self._audit: _Audit | None = None
        self._due: _DueKept | None = None
        self._said = ""
        self._files: dict[str, _FileKept] = {}

    def prepare(self) -> None:
        """Make what takes time, if it is of before; called where nobody waits for it."""
        site, present = self.source.site, self._present()
        known = self._audit
        if known is not None and known.site is site:
            age = present.now_utc - known.made_utc
            holds = _AUDIT_HOLDS if known.findings else _NOTHING_HOLDS
            if np.timedelta64(0, "s") <= age < holds:
                return
        try:
            found, trouble = audited(site, self._diary, present), ""
        except DaylatchError as error:
            self._say(f"{site.name}: no audit for the page: {'; '.join(error.lines)}")
            found, trouble = [], "The audit cannot be made: the keeper finds why in the log."
        self._audit = _Audit(site, present.now_utc, found, trouble)
        # What the first reader would have to wait for is then there.
        self.page(_NOBODY)

    def page(self, reader: Reader, notice: Notice | None = None) -> bytes:
        """Return the page as it is now."""
        return render_page(self._page(reader, notice))

    def line(self) -> str:
        """Return how the house is, in a few words."""
        present = self._present()
        standing = sum(one.stands for one in self.watcher.state.alarms)
        alarms = f"{standing} alarm{'s' * (standing != 1)}! " if standing else ""
        try:
            due = self._due_around(self.source.site, present)
        except DaylatchError:
            return f"{alarms}What the door should be is not known."
        return alarms + headline(moment_at(due, present.now_utc), present)

    def notice_of(self, number: int) -> Notice | None:
        """Return what is said of an entry that was just tapped, or undone; None if none was."""
        try:
            noted = self._diary.tapped(number)
        except DaylatchError:
            return None
        if noted is None:
            return None
        if not noted.is_live:
            return Notice(f"Undone: {self._told(noted)}.")
        return Notice(self._noted_words(noted), number)

    def read(self, fields: Mapping[str, str], by: str) -> Tap:
        """Return the tap that a form holds, at this instant; raises TapError if it holds none."""
        return read_tap(fields, by, any_now_utc())

    def words(self, tap: Tap) -> str:
        """Return what a tap says, with its moment."""
        present = self._present()
        words = capital(tap.entry.words(present.face))
        return f"{words}, {present.when(tap.entry.instant_utc)}"

    def note(self, tap: Tap) -> tuple[Tapped, str]:
        """Put a tap into the diary; return its entry and a sentence on that."""
        self.source.diary_to_note(had_one=self.watcher.state.had_diary)
        tapped = self._diary.tap(tap.entry, any_now_utc(), tap.key)
        self.wake()
        if tapped.is_new:
            return tapped, self._noted_words(tapped.noted)
        told = self._told(tapped.noted)
        undone = "" if tapped.noted.is_live else ", and was undone since"
        return tapped, f"That was noted already: {told}{undone}."

    def undo(self, number: int) -> str:
        """Undo what was tapped; return a sentence on that."""
        now = any_now_utc()
        tapped = self._diary.tapped(number)
        if tapped is None:
            return "That was not tapped on this page: undo it by `daylatch diary undo`."
        if tapped.is_live and now - tapped.entered_utc > UNTAP_WITHIN:
            return f"It was tapped long ago: undo it by `daylatch diary undo {number}`."
        found = self._diary.untap(number, now)
        assert found is not None
        self.wake()
        told = self._told(found.noted)
        return f"Undone: {told}." if found.is_new else f"That was undone already: {told}."

    def file(self, name: str) -> File | None:
        """Return a paper or file of the house; None if there is none of that name."""
        site, present = self.source.site, self._present()
        of = self._of(site, present)
        with self._lock:
            known = self._files.get(name)
            if known is not None and known.of == of:
                return known.file
            made = made_file(site, name, present.today)
            if made is not None:
                # It holds for a day, and what is made for one reader serves the next.
                self._files[name] = _FileKept(of, made)
            return made

    def _noted_words(self, noted: Noted) -> str:
        doubts = filter(None, self._doubts(noted.entry))
        return " ".join([f"Noted: {self._told(noted)}.", *doubts])

    def _doubts(self, entry: Entry) -> Iterator[str]:
        """Yield what is likely wrong with what was just noted, in sentences."""
        site, present = self.source.site, self._present()
        try:
            yield from (f"{capital(one)}." for one in count_doubts(site, self._diary, entry))
            yield early_count(self._scene(site, [], present), entry, present)
        except DaylatchError:
            # It is noted all the same.
            return

    @property
    def _diary(self) -> Diary:
        diary = self.source.diary
        return Diary(diary.path, diary.house, wait_s=_WAIT_S)

    def _present(self) -> Present:
        site = self.source.site
        return Present(any_now_utc(), get_zone(site.zone), site.face)

    def _told(self, noted: Noted) -> str:
        present = self._present()
        return f"{present.said(noted)}, {present.when(noted.entry.instant_utc)}"

    def _page(self, reader: Reader, notice: Notice | None) -> Page:
        site, present = self.source.site, self._present()
        noted, last_act, troubles = self._noted(present)
        found = Found(
            noted, last_act, has_year=has_pictures(), links=list(links(site, present.today))
        )
        scene, what = None, "What is due"
        try:
            scene = self._scene(site, noted, present, is_blind=bool(troubles))
            what = "What was seen"
            ahead, behind = weeks_of(scene, noted, self._diary, present)
            found = replace(found, ahead=ahead, behind=behind)
        except DaylatchError as error:
            self._say(f"{site.name}: its page: {what} cannot be told: {'; '.join(error.lines)}")
            troubles.append(f"{what} cannot be told: the keeper finds why in the log.")
        audit = self._audit
        if audit is not None and audit.site is site:
            found = replace(found, audit=audit.findings)
            troubles += filter(None, [audit.trouble])
        return home_page(
            site.id,
            site.name,
            scene,
            self.watcher.state,
            replace(found, troubles=troubles),
            reader,
            present,
            notice,
        )

    def _noted(self, present: Present) -> tuple[list[Noted], int, list[str]]:
        """Return the entries of the last days, the last act, and what kept them from being read."""
        since = present.now_utc - _LATELY
        try:
            noted = self._diary.entries_if_any(since, whats=_SHOWN, or_received=True)
            return noted, self._diary.last_act(), []
        except DaylatchError:
            # Its words name a file of this computer, which is for the keeper alone.
            return [], 0, [f"{_UNREADABLE}: what was noted lately is not here."]

    def _scene(
        self, site: Site, noted: list[Noted], present: Present, *, is_blind: bool = False
    ) -> Scene:
        """Return what the watch saw last, with what is due and noted by now.

        Raises
        ------
        PlanError, SecondOpinionError, SiteError
            If it cannot be told what is due.
        """
        due = self._due_around(site, present)
        since = present.now_utc - _LATELY
        now = [one for one in noted if one.entry.what in TELLING]
        seen = self.watcher.last_view.scene or Scene(due, self.source.watch)
        if is_blind:
            return replace(seen, due=due, noted=(), doubts={DIARY: _UNREADABLE})
        earlier = [one for one in seen.noted if one.entry.instant_utc < since]
        return replace(seen, due=due, noted=[*earlier, *now])

    def _due_around(self, site: Site, present: Present) -> Due:
        """Return what is due around now; the file that is in the door may change meanwhile."""
        if is_before_rules(present.now_utc):
            raise PlanError(f"{early_clock_words(present.now_utc)}; set it")
        of = self._of(site, present)
        known = self._due
        if known is None or known.of != of:
            known = self._due = _DueKept(of, due_around(site, present))
        return known.due

    def _of(self, site: Site, present: Present) -> tuple[object, ...]:
        """Return of what something is made that is kept: the files and the day."""
        return site, stamp_of_files(site), present.today

    def _say(self, words: str) -> None:
        """Say something to whoever reads the log, once."""
        if words != self._said:
            self._said = words
            say(words)
