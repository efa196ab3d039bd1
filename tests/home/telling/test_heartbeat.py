"""A sign of life: whoever answers slowly holds nobody up."""

from __future__ import annotations

import socket
import threading
import time

import pytest

from daylatch.errors import SecretsError
from daylatch.home.telling import heartbeat
from peers.receivers import running_post


def test_it_asks_for_the_address():
    with running_post() as post:
        assert heartbeat.beat(post.url)
        assert post.asked == ["/beat"]
    assert not heartbeat.beat(post.url)


def test_a_server_that_sends_a_letter_now_and_then_is_given_up(monkeypatch):
    monkeypatch.setattr(heartbeat, "_TIMEOUT_S", 0.3)
    ended = threading.Event()
    with socket.create_server(("127.0.0.1", 0)) as server:

        def drip():
            made, _ = server.accept()
            with made:
                for _ in range(12):
                    made.sendall(b"H")
                    time.sleep(0.1)
            ended.set()

        threading.Thread(target=drip, daemon=True).start()
        begun = time.monotonic()
        address = f"http://127.0.0.1:{server.getsockname()[1]}/"
        assert not heartbeat.beat(address)
        # And no second one is begun meanwhile.
        assert not heartbeat.beat(address)
        assert time.monotonic() - begun < 1
        assert ended.wait(5)


@pytest.mark.parametrize("address", ["", "geheim", "ftp://x/geheim", "http://", "http://[geheim"])
def test_what_cannot_be_asked_for_is_refused_and_not_repeated(address):
    with pytest.raises(SecretsError) as refused:
        heartbeat.check_heartbeat(address)
    assert "geheim" not in str(refused.value)
