"""``daylatch watch``: one look at a house, a test of who would be told, or what stands."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from daylatch.cautions import CAUTION
from daylatch.clock import get_zone
from daylatch.commands.home.houses import opened, read_houses, warn_of_silence
from daylatch.commands.home.source import LOCK_ENDING, WATCH_ENDING
from daylatch.commands.now import any_now_utc, warn
from daylatch.console import say
from daylatch.errors import (
    DaylatchError,
    HomeError,
    OutputError,
    SecretsError,
    SiteError,
    UsageError,
)
from daylatch.home.broker import say_once
from daylatch.home.secrets import ENDING, load_secrets
from daylatch.home.telling.heartbeat import beat
from daylatch.home.telling.targets import Errand, Target, deliver
from daylatch.home.watch.kinds import PACES
from daylatch.home.watch.lock import only_watcher
from daylatch.home.watch.look import unforeseen
from daylatch.home.watch.state import State, StateError, house_of, load_state
from daylatch.home.watch.watcher import View, Watcher
from daylatch.home.watch.words import TEST, test_text
from daylatch.wording import capital, listed, wrapped

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from daylatch.commands.home.source import Source
    from daylatch.home.watch.alarms import Alarm

_ONCE = "daylatch watch --once"
SENT, NOT_SENT = 10, 11
"""Exit statuses: an alarm was sent; one could not be sent to anybody."""


def run(paths: Sequence[Path], *, once: bool, test: bool) -> int:
    """Look, test, or say what stands; return the exit status."""
    if once and test:
        raise UsageError("--once looks, and --test tries who would be told: give one of them")
    if once:
        return _once(paths)
    sources = read_houses(paths)
    if test:
        return max(map(_test, sources))
    warn_of_silence(sources)
    for source in sources:
        print("\n".join(wrapped(_standing(source))))
    return 0


def _once(paths: Sequence[Path]) -> int:
    """Look at each house, whatever becomes of the others; return the gravest status.

    Raises
    ------
    DaylatchError
        The first of a house that could not be looked at, after all others were.
    """
    status, first = 0, None
    for path in paths:
        try:
            with opened([path], _ONCE, listens=False) as houses:
                status = max(status, *(_looked(source, watcher) for source, watcher in houses))
        except DaylatchError as error:
            if isinstance(error, SiteError | SecretsError):
                # A timer has nobody who reads messages.
                _tell_of_slip(path, error)
            if first is not None:
                for line in error.lines:
                    say(f"daylatch: {line}")
            first = first or error
    if first is not None:
        raise first
    return status


def _tell_of_slip(path: Path, error: DaylatchError) -> None:
    """Tell those whose addresses can be read that a site that was watched cannot be any more."""
    state = path.with_suffix(WATCH_ENDING)
    house = house_of(state)
    if house is None:
        return
    words = f"The watch cannot begin: {'; '.join(error.lines)}"
    try:
        secrets = load_secrets(path.with_suffix(ENDING), house)
        targets = {name: Target(name, address) for name, address in secrets.tell.items()}
        view = View(
            path.stem, get_zone("UTC"), None, {"files": words}, names=list(targets), targets=targets
        )
        with only_watcher(path.with_suffix(LOCK_ENDING), lambda: ""):
            Watcher(state, house, lambda *_: view, any_now_utc, _ONCE).look()
    except (SecretsError, HomeError):
        # Nobody can be told, or another watches on with what stood there before.
        return


def say_unheard(source: Source, alarm: Alarm) -> None:
    """Say to whoever reads the log what nobody could be told."""
    title = PACES[alarm.kind].title
    say(f"daylatch: nobody could be told: {source.site.name}: {title}. {alarm.words}")


def tell_heartbeat(source: Source) -> None:
    """Ask for the address of the keeper's choice: whoever waits for that knows of a look."""
    if source.secrets.heartbeat and not beat(source.secrets.heartbeat):
        warn(f"{source.site.name}: the address of the heartbeat does not answer")


def _looked(source: Source, watcher: Watcher) -> int:
    """Look at a house, whatever becomes of the others."""
    try:
        return _look(source, watcher)
    except Exception as error:
        say(f"daylatch: {source.site.name}: {unforeseen(error)}")
        return NOT_SENT


def _look(source: Source, watcher: Watcher) -> int:
    watcher.buzzer = _buzzer(source)
    looked = watcher.look()
    for alarm in looked.unheard:
        say_unheard(source, alarm)
    if looked.is_well:
        tell_heartbeat(source)
    if looked.unheard:
        return NOT_SENT
    return SENT if looked.told else 0


def _buzzer(source: Source) -> Callable[..., bool] | None:
    """Return what says a word on the topic of a buzzer; None without one."""
    broker = source.broker
    if broker is None or broker.alarm is None:
        return None
    # A name of its own: that of `daylatch home` has a session that is kept.
    name = f"daylatch-watch-{source.site.id}"

    def buzz(word: str, *, is_kept: bool = True) -> bool:
        try:
            folder = Path(source.site.folder)
            return say_once(broker, name, source.secrets, folder, word, is_kept=is_kept)
        except HomeError as error:
            warn(f"{source.site.name}: {error}")
            return False

    return buzz


def _test(source: Source) -> int:
    """Send a test to everybody who could be told, and say how it went."""
    name = source.site.name
    targets = list(source.targets.values())
    buzzer = _buzzer(source)
    if not targets and buzzer is None:
        warn(f"{name}: there is nobody to tell: {source.how_to_tell}")
        return NOT_SENT
    text = test_text(name)
    failed = False
    for place, arrived in deliver([Errand(target, text, is_good_news=True) for target in targets]):
        failed |= not arrived
        who = targets[place].name
        never = "" if who in source.told_ever else " (alarms are not, by tell in the site file)"
        print(f"{name}: {who}: {_went(arrived)}{never}")
    if buzzer is not None:
        # Who comes later must not hear it, but what really stands.
        arrived = buzzer(TEST, is_kept=False)
        failed |= not arrived
        print(f"{name}: the topic of the buzzer: {_went(arrived)}")
    return NOT_SENT if failed else 0


def _went(arrived: bool) -> str:
    return "sent" if arrived else "could not be told: it was not reached, or it refused"


def _standing(source: Source) -> Iterator[str]:
    """Yield what the watch finds now, which is not sent to anybody."""
    now = any_now_utc()
    try:
        state = load_state(source.beside(WATCH_ENDING), source.site.id)
    except StateError as error:
        raise OutputError(
            f"{source.beside(WATCH_ENDING)}: {error}: the next look begins anew, and tells what "
            "stands once more"
        ) from error
    if state == State():
        # What was before, nobody was asked for.
        state = State(began_utc=now)
    view = source.view(now, state)
    told = listed(sorted(set(view.names) & set(view.targets))) or "nobody"
    yield f"{view.name}: expects {listed(view.watch.expects) or 'nothing'}; tells {told}."
    looked = state.looked_utc
    yield (
        "Nobody has watched yet."
        if looked is None
        else (f"Last looked at {source.site.face.instant(view.zone, looked)}, by {state.watcher}.")
    )
    findings = view.found(now)
    for trouble in findings.troubles:
        yield f"{capital(PACES[trouble.kind].title)}. {trouble.words}"
    yield from findings.waiting.values()
    if not findings.troubles:
        yield "Nothing is wrong, as far as is known."
    yield from dict.fromkeys(findings.fine.values())
    yield CAUTION
