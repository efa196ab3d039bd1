"""Secrets of a house that stand in the keyring."""

from __future__ import annotations

import time

import keyring
import pytest
from keyring.backend import KeyringBackend

from daylatch.home import secrets as module
from daylatch.home.secrets import Secrets, load_secrets

HOUSE = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"


class Ring(KeyringBackend):
    """A keyring that a test fills."""

    priority = 1

    def __init__(self, known, waits_s=0.0):
        self.known = known
        self.waits_s = waits_s

    def get_password(self, service, username):
        time.sleep(self.waits_s)
        return self.known.get((service, username))

    def set_password(self, service, username, password):
        raise NotImplementedError

    def delete_password(self, service, username):
        raise NotImplementedError


@pytest.fixture
def ring():
    before = keyring.get_keyring()
    yield lambda *known, **more: keyring.set_keyring(
        Ring({(f"daylatch {HOUSE}", name): value for name, value in known}, **more)
    )
    keyring.set_keyring(before)


def test_what_the_file_lacks_is_in_the_keyring(tmp_path, ring):
    ring(
        ("door token", "a-token-in-the-keyring-123"),
        ("tell phone", "json://127.0.0.1/"),
        ("tell mail", "json://127.0.0.2/"),
        ("mqtt user", "jo"),
        ("mqtt password", "pw"),
        ("heartbeat url", "https://example.org/"),
    )
    path = tmp_path / "hens.secrets"
    path.touch(0o600)
    path.write_text('[tell]\nmail = "json://127.0.0.3/"\n')
    found = load_secrets(path, HOUSE, ["phone", "mail", "gran"])
    assert found == Secrets(
        token="a-token-in-the-keyring-123",
        tell={"phone": "json://127.0.0.1/", "mail": "json://127.0.0.3/"},
        mqtt_user="jo",
        mqtt_password="pw",
        heartbeat="https://example.org/",
    )
    assert found.is_token("a-token-in-the-keyring-123")
    assert not found.is_token("a-token-in-the-keyring-124")
    # Whoever prints them prints nothing.
    assert repr(found) == "Secrets()"


def test_without_a_token_nothing_is_one(tmp_path, ring):
    ring()
    found = load_secrets(tmp_path / "none", HOUSE)
    assert found == Secrets()
    assert not found.is_token("")


def test_a_keyring_that_does_not_answer_is_given_up(tmp_path, ring, monkeypatch):
    monkeypatch.setattr(module, "_KEYRING_S", 0.05)
    ring(("door token", "a-token-in-the-keyring-123"), waits_s=0.5)
    begun = time.monotonic()
    assert load_secrets(tmp_path / "none", HOUSE) == Secrets()
    assert time.monotonic() - begun < 2
