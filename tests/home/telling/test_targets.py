"""Telling people side by side: one that hangs keeps none back."""

from __future__ import annotations

import threading
import time

from daylatch.home.telling import targets
from daylatch.home.telling.targets import Errand, Target, Text, deliver
from peers.receivers import running_post

TEXT = Text("title", "body <b>&amp; more</b>\nsecond line")


def test_many_messages_to_one_service_all_arrive():
    with running_post() as post:
        post.hangs_s = 0.05
        target = Target("phone", post.address)
        done = list(deliver([Errand(target, TEXT)] * 9))
        assert sorted(place for place, _ in done) == list(range(9))
        assert all(arrived for _, arrived in done)
        # What is said arrives as it was written.
        assert post.got[0] == TEXT


def test_one_that_hangs_is_given_up_and_the_others_are_told_at_once(monkeypatch):
    monkeypatch.setattr(targets, "LONGEST_S", 0.4)
    hang = threading.Event()

    class Hanging:
        name = "mail"

        def tell(self, _errand):
            hang.wait(5)
            return True

    with running_post() as post:
        begun, found = time.monotonic(), []
        for place, arrived in deliver(
            [Errand(Hanging(), TEXT), Errand(Target("phone", post.address), TEXT)]
        ):
            found.append((place, arrived, time.monotonic() - begun))
    hang.set()
    assert [(place, arrived) for place, arrived, _ in found] == [(1, True), (0, False)]
    assert found[0][2] < 0.4 < found[1][2] < 2


def test_where_there_can_be_no_more_threads_nobody_was_told(monkeypatch):
    def refuse(_self):
        raise RuntimeError("can't start new thread")

    monkeypatch.setattr(threading.Thread, "start", refuse)
    assert list(deliver([Errand(None, TEXT)] * 2)) == [(0, False), (1, False)]
