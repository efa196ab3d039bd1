"""Opening houses to watch them: all of them, or none."""

from __future__ import annotations

import os
import platform
from contextlib import ExitStack, contextmanager
from functools import partial
from typing import TYPE_CHECKING

from daylatch.commands.diary import ENDING as DIARY_ENDING
from daylatch.commands.extras import require_home
from daylatch.commands.home.source import LOCK_ENDING, WATCH_ENDING, Source
from daylatch.commands.now import any_now_utc, warn, warn_about
from daylatch.errors import UsageError
from daylatch.home.guests.book import GUESTS_ENDING
from daylatch.home.secrets import ENDING
from daylatch.home.watch.lock import only_watcher
from daylatch.home.watch.state import StateError, load_state
from daylatch.home.watch.watcher import Watcher
from daylatch.site.watch import DOOR

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

_NO_SITES = (WATCH_ENDING, ENDING, DIARY_ENDING, GUESTS_ENDING)
_SOMEBODY = "another daylatch"


@contextmanager
def opened(
    paths: Sequence[Path], what: str, *, listens: bool
) -> Iterator[list[tuple[Source, Watcher]]]:
    """Give houses that nobody else watches.

    Parameters
    ----------
    paths
        The site files.
    what
        The command that watches them.
    listens
        Whether it also listens to the doors all the time.

    Raises
    ------
    SiteError, SecretsError, UsageError
        If a file cannot be used, or two have one id.
    HomeError
        If somebody else watches one of them.
    """
    sources = read_houses(paths)
    warn_of_silence(sources)
    who = f"{what} (process {os.getpid()} on {platform.node()})"
    with ExitStack() as locks:
        houses = []
        for source in sources:
            state = source.beside(WATCH_ENDING)
            lock = only_watcher(source.beside(LOCK_ENDING), partial(_watcher_of, source))
            locks.enter_context(lock)
            watcher = Watcher(state, source.site.id, source.view, any_now_utc, who, listens=listens)
            houses.append((source, watcher))
        yield houses


def read_houses(paths: Sequence[Path]) -> list[Source]:
    """Return houses by their site files, after warnings about them.

    Raises
    ------
    SiteError, SecretsError, UsageError
        As `opened`.
    """
    require_home()
    for path in paths:
        if path.suffix in _NO_SITES:
            raise UsageError(
                f"{path}: a site file cannot end in {path.suffix}, as another file of the watch "
                "does: rename it"
            )
    sources = [Source(path) for path in paths]
    of: dict[str, Source] = {}
    for source in sources:
        other = of.setdefault(source.site.id, source)
        if other is not source:
            raise UsageError(
                f"{other.path} and {source.path} have one id ({source.site.id}): they are the same "
                "house, or one is a copy that needs an id of its own (`daylatch new --like`)"
            )
    with_token: dict[str, Source] = {}
    for source in sources:
        warn_about(source.site)
        token = source.secrets.token
        other = with_token.setdefault(token, source) if token else source
        if other is not source:
            raise UsageError(
                f"{other.secrets_path} and {source.secrets_path} have one token, so that nobody "
                "knows which door reports: make another with `daylatch home --new-token`"
            )
    return sources


def warn_of_silence(sources: Sequence[Source]) -> None:
    """Print what will never be told, or heard."""
    for source in sources:
        name = source.site.name
        if not source.told_ever and not source.has_buzzer:
            warn(f"{name}: nobody is told of alarms: {source.how_to_tell}")
        if not source.watch.expects:
            warn(f"{name}: nothing is expected (expects under [watch]), so nothing is missed")
        if DOOR in source.watch.expects and not source.has_reported:
            how = "; it has no token yet (`daylatch home --new-token` makes one)"
            can = bool(source.secrets.token) or source.broker is not None
            silent = "the door has never reported: until it does, it is not missed"
            warn(f"{name}: {silent}{'' if can else how}")


def _watcher_of(source: Source) -> str:
    """Return who watches a house, as far as is written down."""
    try:
        return load_state(source.beside(WATCH_ENDING), source.site.id).watcher or _SOMEBODY
    except StateError:
        return _SOMEBODY
