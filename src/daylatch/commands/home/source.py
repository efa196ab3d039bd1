"""A house as the watch finds it at an instant: its files read again when they change."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.clock import get_zone
from daylatch.commands.beside import stamp_of_files
from daylatch.commands.diary import diary_of
from daylatch.commands.due import due_of
from daylatch.commands.flock import flock_on
from daylatch.commands.happened.records import audit_of
from daylatch.commands.home.certificates import last_date_of
from daylatch.commands.now import early_clock_words, is_before_rules
from daylatch.diary.store.rows import DOOR_WORDS
from daylatch.errors import (
    DaylatchError,
    DiaryError,
    NoDiaryError,
    PlanError,
    SecondOpinionError,
    SecretsError,
)
from daylatch.home.guests.book import GUESTS_ENDING, GuestBook
from daylatch.home.secrets import ENDING, Secrets, load_secrets
from daylatch.home.telling.heartbeat import check_heartbeat
from daylatch.home.telling.targets import Target
from daylatch.home.watch.look import DIARY, unforeseen
from daylatch.home.watch.nights import IN, OUT
from daylatch.home.watch.scene import Ending, Scene
from daylatch.home.watch.watcher import View
from daylatch.plan.moment import days_around
from daylatch.plan.plan import make_plan
from daylatch.site.reading.site_file import load_site
from daylatch.site.watch import Watch

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.diary.store.store import Diary
    from daylatch.home.report.receiver import Receiver
    from daylatch.home.watch.state import State
    from daylatch.plan.due import Due
    from daylatch.site.mqtt import Mqtt
    from daylatch.site.tables import Site

WATCH_ENDING, LOCK_ENDING = ".watch", ".watch.lock"
_DUE_HOLDS = np.timedelta64(10, "m")
_AUDIT_HOLDS = np.timedelta64(6, "h")
MOST_AUDITED = 3000
TELLING = (*DOOR_WORDS, *IN, OUT)
"""The kinds of entries that the watch goes by."""
_JUDGING = (*DOOR_WORDS, "clock_said", "clock_set")
AUDITED = np.timedelta64(60, "D")
"""How far back an audit by the watch, or for the page, goes (our choice, no source)."""
_VOLTS_OF = np.timedelta64(30, "D")
_DAY = np.timedelta64(1, "D")
_HOLDS = (
    "What was changed in the site file or its secrets cannot be used, so what stood there before "
    "holds"
)
_BACK_DAYS = (30, 120, 400)


class _DueKept(NamedTuple):
    """What is due, when that was found, and by which file in the door."""

    stamp: object
    made_utc: np.datetime64
    due: Due


class Source:
    """Reads what belongs to a house, and reads it again when it has changed.

    Parameters
    ----------
    path
        The site file.

    Raises
    ------
    SiteError, SecretsError
        If a file cannot be used.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.site = load_site(path)
        self.secrets_path = path.with_suffix(ENDING)
        self.guests = GuestBook(self.beside(GUESTS_ENDING), self.site.id)
        self._doubts: dict[str, str] = {}
        self._stamps = self._stamps_now()
        self.secrets, self.targets = Secrets(), dict[str, Target]()
        self.secrets, self.targets = self._read_secrets(self.site)
        self.diary = diary_of(self.site)
        self._due: _DueKept | None = None
        self._clock_off: tuple[np.datetime64, float | None] | None = None
        self.receiver: Receiver | None = None
        self.looking_trouble = ""
        """Why the look before failed, which nobody foresaw; empty if it did not."""

    @property
    def watch(self) -> Watch:
        """The settings of the watch."""
        return self.site.settings.watch or Watch.model_construct()

    @property
    def how_to_tell(self) -> str:
        """What a keeper can do so that somebody is told."""
        return f"add an address under [tell] in {self.secrets_path}"

    @property
    def broker(self) -> Mqtt | None:
        """The topics of the broker; None if there is none."""
        mqtt = self.site.settings.mqtt
        return None if mqtt is None or mqtt.host is None else mqtt

    @property
    def has_buzzer(self) -> bool:
        """Whether a topic of a broker is told, too."""
        return self.broker is not None and self.broker.alarm is not None

    @property
    def has_reported(self) -> bool:
        """Whether the door has ever reported, as far as is known."""
        try:
            return self.diary.has_reports()
        except DiaryError:
            return True

    def beside(self, ending: str) -> Path:
        """Return the file beside the site file with another ending."""
        return self.path.with_suffix(ending)

    def view(self, now_utc: np.datetime64, state: State) -> View:
        """Return the house at an instant, with what keeps from looking at it."""
        self._read_again()
        doubts = dict(self._doubts)
        if self.receiver is not None and self.receiver.trouble:
            doubts["reports"] = f"A report of the door could not be noted: {self.receiver.trouble}"
        if self.looking_trouble:
            doubts["look"] = self.looking_trouble
        scene = None
        try:
            scene = self._scene(now_utc, state, doubts)
        except DaylatchError as error:
            doubts["plan"] = f"What is due is not known: {'; '.join(error.lines)}"
        except Exception as error:
            # Whatever it is, it must not keep the watch silent.
            doubts["watch"] = unforeseen(error)
        home = self.site.settings.home
        return View(
            self.site.name,
            get_zone(self.site.zone),
            scene,
            doubts,
            self.watch,
            self._names(now_utc),
            self.targets,
            has_reported=scene is not None and scene.has_reported,
            has_diary=self.has_diary(),
            base=None if home is None else home.url,
        )

    def _scene(self, now_utc: np.datetime64, state: State, doubts: dict[str, str]) -> Scene | None:
        if is_before_rules(now_utc):
            doubts["clock"] = (
                f"It cannot be told what is due: {early_clock_words(now_utc)}; set it."
            )
            return None
        due = self._due_at(now_utc)
        noted, volts, has_reported, birds = [], [], state.has_reported, None
        broker = self.broker
        try:
            self.diary_to_note(had_one=state.had_diary)
            first, last = (
                end.astype("datetime64[s]")
                for end in (due.plan.day_start_utc[0], due.plan.day_end_utc[-1])
            )
            noted = self.diary.entries_if_any(first, last, whats=TELLING, or_received=True)
            has_reported = has_reported or self.diary.has_reports()
            volts = self.diary.entries_if_any(now_utc - _VOLTS_OF, whats=("battery_v",))
            flock = flock_on(self.site, self.diary, due.plan.zone.date_at(now_utc))
            birds = None if flock is None else flock.birds
        except DaylatchError as error:
            doubts[DIARY] = f"The diary cannot be read: {'; '.join(error.lines)}"
        clock_off = None
        if DIARY not in doubts:
            try:
                clock_off = self._clock_off_at(now_utc)
            except DaylatchError as error:
                doubts["audit"] = f"The door's clock cannot be judged: {'; '.join(error.lines)}"
        return Scene(
            due,
            self.watch,
            noted,
            has_reported,
            birds,
            state.link_lost_utc if broker is not None and broker.link else None,
            state.broker_lost_utc if broker is not None else None,
            volts,
            clock_off,
            list(self._endings(due)),
            state.began_utc,
            state.listening_since_utc,
            doubts,
        )

    def diary_to_note(self, *, had_one: bool) -> Diary:
        """Return the diary, into which something is to be noted.

        Raises
        ------
        NoDiaryError
            If it was there and is gone: a new one would hide that.
        """
        if had_one and not self.has_diary():
            raise NoDiaryError(f"{self.diary.path}: it was there, and is gone")
        return self.diary

    def has_diary(self) -> bool:
        """Return whether there is a file; one that cannot be looked at is no reason to go on."""
        try:
            return self.diary.path.exists()
        except OSError:
            return False

    def _due_at(self, now_utc: np.datetime64) -> Due:
        stamp = stamp_of_files(self.site)
        known = self._due
        if (
            known is None
            or known.stamp != stamp
            or not known.made_utc <= now_utc < known.made_utc + _DUE_HOLDS
        ):
            known = self._due = _DueKept(stamp, now_utc, self._due_since_closing(now_utc))
        return known.due

    def _due_since_closing(self, now_utc: np.datetime64) -> Due:
        """Return what is due on the days around, from the last closing on.

        In a span on which the door stays shut that may be long ago: the night that began then is
        the same night still.
        """
        due = due_of(days_around(self.site, now_utc))
        for days in _BACK_DAYS:
            if np.any(due.told_close_utc <= now_utc):
                break
            first, last = due.plan.dates[0].item(), due.plan.dates[-1].item()
            try:
                due = due_of(make_plan(self.site, first - dt.timedelta(days=days), last))
            except (PlanError, SecondOpinionError):
                # Days long ago may have no plan where those around now have one.
                break
        return due

    def _clock_off_at(self, now_utc: np.datetime64) -> float | None:
        """Return by how much the door's clock is fast, by what was seen lately [min]."""
        known = self._clock_off
        if known is None or not known[0] <= now_utc < known[0] + _AUDIT_HOLDS:
            known = self._clock_off = now_utc, self._audited(now_utc)
        return known[1]

    def _audited(self, now_utc: np.datetime64) -> float | None:
        noted = self.diary.entries_if_any(now_utc - AUDITED, now_utc + _DAY, whats=_JUDGING)
        entries = [one.entry for one in noted[-MOST_AUDITED:]]
        if not entries:
            return None
        today = get_zone(self.site.zone).date_at(now_utc)
        found = audit_of(self.site, self.diary, entries, str(self.diary.path), today).found
        return None if found.clock is None else float(found.clock.error_at(np.array([now_utc]))[0])

    def _endings(self, due: Due) -> Iterator[Ending]:
        if due.in_use is not None:
            what = f"The file in the door ({due.in_use.name})"
            remedy = f"make a new one with `{due.in_use.remedy}`, and put it in"
            yield Ending(what, due.in_use.last.astype(object), remedy)
        home = self.site.settings.home
        if home is not None and home.certificate is not None:
            last = last_date_of(Path(self.site.folder) / home.certificate)
            if last is not None:
                remedy = "renew it, or phones and doors will not connect"
                yield Ending(f"The certificate of daylatch home ({home.certificate})", last, remedy)

    @property
    def told_ever(self) -> set[str]:
        """The names of those who are told, at some time at least."""
        always = self.targets if self.watch.tell is None else ()
        return {*always, *_named(self.site)}

    def _names(self, now_utc: np.datetime64) -> list[str]:
        """Return who is told: as the last span says that covers the night, else as the watch."""
        date = self._flock_date(now_utc)
        for span in reversed(self.site.settings.spans):
            if span.tell is not None and span.covers(date):
                return span.tell
        return self.watch.tell if self.watch.tell is not None else sorted(self.targets)

    def _flock_date(self, now_utc: np.datetime64) -> dt.date:
        """Return the date whose evening it is: a night belongs to that of its closing."""
        return get_zone(self.site.zone).date_at(now_utc - np.timedelta64(12, "h"))

    def _read_again(self) -> None:
        """Read the site file and the secrets again if they have changed; keep them if they fail.

        What fails is tried at every look, since it may pass.
        """
        stamps = self._stamps_now()
        if stamps == self._stamps:
            self._doubts = {}
            return
        try:
            site = self._load_again()
            secrets, targets = self._read_secrets(site)
        except DaylatchError as error:
            self._doubts = {"files": f"{_HOLDS}: {'; '.join(error.lines)}"}
            return
        except Exception as error:
            self._doubts = {"files": f"{_HOLDS}: {unforeseen(error)}"}
            return
        self._stamps, self._doubts = stamps, {}
        self.site, self.secrets, self.targets = site, secrets, targets
        self.diary = diary_of(site)
        self._due = self._clock_off = None

    def _load_again(self) -> Site:
        # A pipe in its place would be waited for without end.
        if self.path.exists() and not self.path.is_file():
            raise SecretsError(f"{self.path}: is no plain file")
        site = load_site(self.path)
        if site.id != self.site.id:
            raise SecretsError(f"{self.path}: has another id than before: start the watch again")
        return site

    def _stamps_now(self) -> list[tuple[int, ...] | None]:
        found: list[tuple[int, ...] | None] = []
        for path in (self.path, self.secrets_path):
            try:
                stat = path.stat()
            except OSError:
                found.append(None)
            else:
                found.append((stat.st_mtime_ns, stat.st_size, stat.st_mode, stat.st_ino))
        return found

    def _read_secrets(self, site: Site) -> tuple[Secrets, dict[str, Target]]:
        """Return the secrets of a site, and whom the watch can tell.

        Raises
        ------
        SecretsError
            If the file cannot be used, or somebody who is to be told has no address.
        """
        named = _named(site)
        secrets = load_secrets(self.secrets_path, site.id, named)
        try:
            targets = {name: Target(name, address) for name, address in secrets.tell.items()}
            if secrets.heartbeat:
                check_heartbeat(secrets.heartbeat)
        except SecretsError as error:
            raise SecretsError(f"{self.secrets_path}: {error}") from error
        if (self.targets and not targets) or (self.secrets.token and not secrets.token):
            raise SecretsError(
                f"{self.secrets_path}: what stood there is gone (if that is meant, start the watch "
                "again)"
            )
        unknown = next((name for name in named if name not in targets), None)
        if unknown is not None:
            raise SecretsError(
                f'{self.path}: the watch is to tell "{unknown}", whose address is not known: add '
                f'{unknown} = "..." under [tell] in {self.secrets_path}, or store it in the '
                "keyring"
            )
        return secrets, targets


def _named(site: Site) -> list[str]:
    """Return the names of those whom a site file says to tell, at some time at least."""
    tables = [site.settings.watch, *site.settings.spans]
    names = [name for table in tables if table is not None for name in table.tell or ()]
    return list(dict.fromkeys(names))
