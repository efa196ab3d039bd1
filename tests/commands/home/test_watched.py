"""A house that is looked after: a look that fails, whatever the reason, is followed by the next."""

from __future__ import annotations

import time
from types import SimpleNamespace

import pytest

from daylatch.commands.home import home
from daylatch.home.watch.watcher import Looked
from watch_scenes import site_of


class Watcher:
    """Looks, and fails as it is told."""

    house, state = "house", SimpleNamespace(looked_utc=None)

    def __init__(self, source, fails):
        self.source = source
        self.fails = fails
        self.seen = []

    def look(self):
        self.seen.append(self.source.looking_trouble)
        if len(self.seen) in self.fails:
            raise MemoryError("no more")
        return Looked(0, [], is_well=True)


@pytest.fixture
def watched(monkeypatch):
    monkeypatch.setattr(home, "_LOOK_EVERY_S", 0.01)
    monkeypatch.setattr(home, "say", lambda _: None)
    source = SimpleNamespace(
        site=site_of(),
        watch=SimpleNamespace(expects=[]),
        targets={},
        secrets=None,
        diary=None,
        broker=None,
        guests=None,
    )
    source.secrets = SimpleNamespace(heartbeat="")
    source.looking_trouble = ""
    return home._Watched(source, Watcher(source, {2, 3}))


def test_the_next_look_comes_and_knows_why_the_one_before_failed(watched):
    watched.start()
    end = time.monotonic() + 10
    while len(watched.watcher.seen) < 6 and time.monotonic() < end:
        time.sleep(0.01)
    assert watched.is_alive
    watched.stop()
    assert not watched.is_alive
    words = "This should not have happened (MemoryError: no more): please report it."
    assert watched.watcher.seen[:6] == ["", "", words, words, "", ""]
