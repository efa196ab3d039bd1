"""``daylatch watch``: one look at a house, a test of who would be told, or what stands."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from daylatch.cautions import CAUTION
from daylatch.commands.home.houses import opened, read_houses
from daylatch.commands.home.source import WATCH_ENDING
from daylatch.commands.now import any_now_utc, warn
from daylatch.console import say
from daylatch.errors import OutputError, UsageError
from daylatch.home.broker import say_once
from daylatch.home.telling.heartbeat import beat
from daylatch.home.telling.targets import Errand, deliver
from daylatch.home.watch.kinds import PACES
from daylatch.home.watch.state import StateError, load_state
from daylatch.home.watch.words import TEST, test_text
from daylatch.wording import listed, wrapped

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from daylatch.commands.home.source import Source
    from daylatch.home.watch.alarms import Alarm
    from daylatch.home.watch.watcher import Watcher

SENT, NOT_SENT = 10, 11
"""Exit statuses: an alarm was sent; one could not be sent to anybody."""


def run(paths: Sequence[Path], *, once: bool, test: bool) -> int:
    """Look, test, or say what stands; return the exit status."""
    if once and test:
        raise UsageError("--once looks, and --test tries who would be told: give one of them")
    if once:
        with opened(paths, "daylatch watch --once", listens=False) as houses:
            return max(_look(source, watcher) for source, watcher in houses)
    sources = read_houses(paths)
    if test:
        return max(map(_test, sources))
    for source in sources:
        print("\n".join(wrapped(_standing(source))))
    return 0


def say_unheard(source: Source, alarm: Alarm) -> None:
    """Say to whoever reads the log what nobody could be told."""
    title = PACES[alarm.kind].title
    say(f"daylatch: nobody could be told: {source.site.name}: {title}. {alarm.words}")


def tell_heartbeat(source: Source) -> None:
    """Ask for the address of the keeper's choice: whoever waits for that knows of a look."""
    if source.secrets.heartbeat and not beat(source.secrets.heartbeat):
        warn(f"{source.site.name}: the address of the heartbeat does not answer")


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


def _buzzer(source: Source) -> Callable[[str], bool] | None:
    """Return what says a word on the topic of a buzzer; None without one."""
    mqtt = source.site.settings.mqtt
    if mqtt is None or mqtt.alarm is None:
        return None
    # A name of its own: that of `daylatch home` has a session that is kept.
    name = f"daylatch-watch-{source.site.id}"
    return partial(say_once, mqtt, name, source.secrets, Path(source.site.folder))


def _test(source: Source) -> int:
    """Send a test to everybody who could be told, and say how it went."""
    name = source.site.name
    targets = list(source.targets.values())
    text = test_text(name)
    failed = False
    for place, arrived in deliver([Errand(target, text, is_good_news=True) for target in targets]):
        failed |= not arrived
        print(f"{name}: {targets[place].name}: {'sent' if arrived else 'could not be told'}")
    buzzer = _buzzer(source)
    if buzzer is not None:
        arrived = buzzer(TEST)
        failed |= not arrived
        print(f"{name}: the topic of the buzzer: {'sent' if arrived else 'could not be told'}")
    if not targets and buzzer is None:
        raise OutputError(f"{name}: there is nobody to tell: {source.how_to_tell}")
    return NOT_SENT if failed else 0


def _standing(source: Source) -> Iterator[str]:
    """Yield what the watch finds now, which is not sent to anybody."""
    now = any_now_utc()
    try:
        state = load_state(source.beside(WATCH_ENDING), source.site.id)
    except StateError as error:
        raise OutputError(f"{source.beside(WATCH_ENDING)}: {error}") from error
    view = source.view(now, state)
    told = listed([target.name for target in view.targets]) or "nobody"
    yield f"{view.name}: expects {listed(view.watch.expects) or 'nothing'}; tells {told}."
    looked = state.looked_utc
    yield (
        "Nobody has watched yet."
        if looked is None
        else (f"Last looked at {source.site.face.instant(view.zone, looked)}, by {state.watcher}.")
    )
    findings = view.found(now)
    for trouble in findings.troubles:
        title = PACES[trouble.kind].title
        yield f"{title[0].upper()}{title[1:]}: {trouble.words}"
    if not findings.troubles:
        yield "Nothing is wrong, as far as is known."
    yield from findings.fine.values()
    yield CAUTION
