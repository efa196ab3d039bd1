"""``daylatch home``: receives the reports of doors, and watches."""

from __future__ import annotations

import gc
import os
import platform
import sys
import threading
import time
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING

from daylatch.commands.home import guests
from daylatch.commands.home.certificates import Certificate
from daylatch.commands.home.houses import opened, read_houses
from daylatch.commands.home.log import unblocked_log
from daylatch.commands.home.pages import HousePages
from daylatch.commands.home.times import HouseTimes
from daylatch.commands.home.watch import say_unheard, tell_heartbeat
from daylatch.commands.now import any_now_utc, warn
from daylatch.console import print_bytes, say
from daylatch.errors import HomeError, UsageError
from daylatch.home.guests.book import May
from daylatch.home.report.mqtt import Listener
from daylatch.home.report.receiver import Receiver
from daylatch.home.secrets import make_token
from daylatch.home.server.app import make_app
from daylatch.home.server.house import House
from daylatch.home.server.serving import Serving, listening_socket
from daylatch.home.times.teller import Teller
from daylatch.home.unit import unit_text
from daylatch.home.watch.look import unforeseen
from daylatch.site.home import LOOPBACK, Home
from daylatch.wording import listed

if TYPE_CHECKING:
    import ssl
    from collections.abc import Sequence

    from daylatch.commands.home.source import Source
    from daylatch.home.watch.alarms import Alarm
    from daylatch.home.watch.watcher import Watcher

_LOOK_EVERY_S = 30.0
_BEATS_EVERY = 10
"""Every how many looks the heartbeat's address is asked for: five minutes."""


def run(
    paths: Sequence[Path],
    *,
    print_unit: bool = False,
    new_token: bool = False,
    invite: str | None = None,
    only_reads: bool = False,
    list_guests: bool = False,
    revoke: str | None = None,
) -> None:
    """Receive and watch until told to stop; or print a unit, make tokens, or see to guests."""
    if print_unit + new_token + (invite is not None) + list_guests > 1:
        raise UsageError("give one of --print-unit, --new-token, --invite and --guests")
    if only_reads and invite is None:
        raise UsageError("--only-reads says what an invitation allows: give it with --invite")
    if revoke is not None and not list_guests:
        raise UsageError("--revoke takes a guest off the list: give it with --guests")
    if print_unit:
        sources = read_houses(paths)
        sites = [path.absolute() for path in paths]
        # The interpreter's own name, and not what it is a link to: beside it are its libraries.
        diaries = [source.diary.path.absolute().parent for source in sources]
        pythons = [Path(sys.executable), Path(sys.base_prefix)]
        text = unit_text(pythons, sites, diaries, _user())
        print_bytes(text.encode())
    elif new_token:
        for source in read_houses(paths):
            had_one = bool(source.secrets.token)
            make_token(source.secrets_path)
            say(
                f"{source.secrets_path}: the door of {source.site.name} has a new token there, "
                f"under [door]{'; the older one no longer holds' * had_one}. Copy it to the door's "
                "board; a home that runs takes it up by itself"
            )
    elif invite is not None:
        guests.invite(paths, invite, May.READ if only_reads else May.WRITE)
    elif revoke is not None:
        guests.revoke(paths, revoke)
    elif list_guests:
        guests.list_guests(paths)
    else:
        _serve(paths)


def _user() -> str:
    """Return who runs this, by the system and not by what the environment says."""
    try:
        import pwd  # noqa: PLC0415 - not everywhere

        return pwd.getpwuid(os.getuid()).pw_name
    except (ImportError, KeyError):
        return "nobody"


def _serve(paths: Sequence[Path]) -> None:
    # Other commands end before it would matter, and leave it off.
    gc.enable()
    with (
        unblocked_log(),
        opened(paths, "daylatch home", listens=True) as found,
        ExitStack() as open_things,
    ):
        settings, folder = _settings([source for source, _ in found])
        certificate = _certificate(settings, folder)
        tls = None if certificate is None else certificate.context
        watched = [_Watched(source, watcher) for source, watcher in found]
        sock = listening_socket(settings.address, settings.port)
        open_things.callback(sock.close)
        port = int(sock.getsockname()[1])
        app = make_app([one.house for one in watched], _hosts(settings), settings)

        def look_after() -> None:
            if certificate is not None:
                certificate.renew()
            if not all(one.is_alive for one in watched):
                # Whoever answers doors without watching is worse than nobody.
                server.should_exit = True

        server = Serving(app, sock, proxies=settings.proxies, tls=tls, each_minute=look_after)
        _introduce(settings, port, tls)
        for one in watched:
            one.start()
            open_things.callback(one.stop)
        server.run_until_stopped()
        ended = [one.source.site.name for one in watched if not one.is_alive]
        say(f"{any_now_utc()}Z stopped; nobody watches now")
    if ended:
        raise HomeError(f"nobody looked after {listed(ended)} any more: please report it")


def _certificate(settings: Home, folder: Path) -> Certificate | None:
    """Return what the home is encrypted by; None for nothing.

    Raises
    ------
    HomeError
        If it cannot be used.
    """
    if settings.certificate is None and settings.key is None:
        return None
    if settings.certificate is None or settings.key is None:
        raise HomeError("give both certificate and key under [home], or neither")
    return Certificate(folder / settings.certificate, folder / settings.key)


def _settings(sources: Sequence[Source]) -> tuple[Home, Path]:
    """Return where to listen, and where the files lie that this names.

    Raises
    ------
    UsageError
        If the houses do not agree.
    """
    given = [source for source in sources if source.site.settings.home is not None]
    if not given:
        return Home.model_construct(), Path()
    first = given[0]
    for other in given[1:]:
        if other.site.settings.home != first.site.settings.home:
            raise UsageError(
                f"{first.path} and {other.path} say different things under [home]: one process "
                "listens at one place, so write the same, or leave it out of one"
            )
    home = first.site.settings.home
    assert home is not None
    return home, Path(first.site.folder)


def _hosts(settings: Home) -> set[str]:
    """Return by which names the server may be asked."""
    names = {"localhost", LOOPBACK, "::1", settings.address, platform.node().lower()}
    names |= set(settings.hosts)
    if settings.url is not None:
        from urllib.parse import urlsplit  # noqa: PLC0415

        names.add(str(urlsplit(settings.url).hostname))
    return names


def _introduce(settings: Home, port: int, tls: ssl.SSLContext | None) -> None:
    host = f"[{settings.address}]" if ":" in settings.address else settings.address
    say(f"listening at {'http' if tls is None else 'https'}://{host}:{port}")
    if tls is None and not settings.is_loopback and not settings.proxies:
        warn(
            "whoever is in the same network can read what doors send, with their tokens: give "
            "certificate and key under [home]"
        )
    if settings.url is None:
        warn("messages have no link to quiet an alarm: give url under [home]")


class _Watched:
    """A house with its threads: one that looks, and those that listen and speak to a broker.

    Parameters
    ----------
    source
        The house.
    watcher
        Who watches it.
    """

    def __init__(self, source: Source, watcher: Watcher) -> None:
        self.source = source
        self.watcher = watcher
        self._wake = threading.Event()
        self._stopping = False
        self._said: set[tuple[str, int]] = set()
        self.receiver = Receiver(
            lambda: source.diary_to_note(had_one=watcher.state.had_diary),
            any_now_utc,
            lambda: source.site.name,
            self._wake.set,
        )
        source.receiver = self.receiver
        self.times = HouseTimes(source)
        self.pages = HousePages(source, watcher, self._wake.set)
        self.house = House(
            lambda: source.site.name,
            lambda: source.secrets,
            self.receiver,
            watcher,
            source.guests,
            self.pages,
            self.times,
        )
        self._listener = self._listen()
        self._teller = self._tell()
        self._thread = threading.Thread(target=self._keep_watching, name="watch", daemon=True)

    def start(self) -> None:
        """Begin to listen and to look."""
        site = self.source.site
        say(
            f"watching {site.name}: expects {listed(self.source.watch.expects) or 'nothing'}; "
            f"tells {listed(sorted(self.source.targets)) or 'nobody'}"
        )
        if self._listener is not None:
            self._listener.start()
        if self._teller is not None:
            self._teller.start()
        self._thread.start()

    def stop(self) -> None:
        """End both; a look that has begun is finished."""
        self._stopping = True
        self._wake.set()
        self._thread.join()
        if self._teller is not None:
            self._teller.stop()
        if self._listener is not None:
            self._listener.stop()

    @property
    def is_alive(self) -> bool:
        """Whether somebody looks."""
        return self._thread.is_alive()

    def _listen(self) -> Listener | None:
        source = self.source
        broker = source.broker
        if broker is None:
            return None
        listener = Listener(
            broker,
            source.site.id,
            source.secrets,
            Path(source.site.folder),
            self.receiver,
            on_link=lambda lost: self.watcher.link(is_lost=lost),
            on_broker=lambda lost: self.watcher.broker(is_lost=lost),
            seconds=time.monotonic,
            heard_until_utc=self.watcher.state.heard_utc,
        )
        self.watcher.hears = lambda: listener.hears
        if broker.alarm is not None:
            self.watcher.buzzer = listener.say
        return listener

    def _tell(self) -> Teller | None:
        """Return what tells a door its times by a broker; None if it has no topic for that."""
        broker, listener = self.source.broker, self._listener
        if broker is None or listener is None:
            return None
        made = {broker.times: self.times.times, broker.table: self.times.table}
        topics = {topic: make for topic, make in made.items() if topic is not None}
        return Teller(topics, listener, lambda: self.source.site.name) if topics else None

    def _say_unheard(self, alarms: Sequence[Alarm]) -> None:
        """Say what nobody could be told, once a round."""
        self._said &= {(alarm.token, alarm.round) for alarm in alarms}
        for alarm in alarms:
            if (alarm.token, alarm.round) not in self._said:
                self._said.add((alarm.token, alarm.round))
                say_unheard(self.source, alarm)

    def _keep_watching(self) -> None:
        looks = 0
        while not self._stopping:
            self._wake.clear()
            try:
                self._look_once(beats=looks % _BEATS_EVERY == 0)
            except Exception as error:
                # Whatever it is, the next look must come, and say so.
                self.source.looking_trouble = unforeseen(error)
                say(f"daylatch: {self.source.site.name}: {unforeseen(error)}")
            self._prepare_page()
            looks += 1
            self._wake.wait(_LOOK_EVERY_S)

    def _prepare_page(self) -> None:
        try:
            self.pages.prepare()
        except Exception as error:
            # A page that is slow, or lacks a part, is no reason to watch less.
            say(f"daylatch: {self.source.site.name}: its page: {unforeseen(error)}")

    def _look_once(self, *, beats: bool) -> None:
        if self._listener is not None:
            self._listener.look_after()
        looked = self.watcher.look()
        self.source.looking_trouble = ""
        self._say_unheard(looked.unheard)
        if looked.is_well and beats:
            tell_heartbeat(self.source)
