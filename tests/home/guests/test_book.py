"""The guests of a house, and the file that holds them."""

from __future__ import annotations

import numpy as np
import pytest

from daylatch.errors import UsageError
from daylatch.home.guests.book import LOOPBACK, Guest, GuestBook, May
from sites import ID

NOW = np.datetime64("2026-11-26T12:00:00")
DAY = np.timedelta64(1, "D")
S = np.timedelta64(1, "s")


@pytest.fixture
def book(tmp_path):
    return GuestBook(tmp_path / "hens.guests", ID)


def joined(book, name="Jo's phone", may=May.WRITE, now=NOW):
    return book.join(book.invite(name, may, now), now)


def test_a_link_lets_in_once(book):
    token = book.invite("Jo's phone", May.WRITE, NOW)
    open_link = Guest("Jo's phone", May.WRITE, NOW, ends_utc=NOW + 3 * DAY)
    assert book.invited(token, NOW) == book.invited(token, NOW) == open_link
    assert book.guests(NOW) == [open_link]
    cookie = book.join(token, NOW + DAY)
    assert book.invited(token, NOW + DAY) is None
    assert book.join(token, NOW + DAY) is None
    guest = Guest("Jo's phone", May.WRITE, NOW, NOW + DAY, NOW + DAY)
    assert book.guest_of(cookie, NOW + DAY) == guest
    assert book.guests(NOW + DAY) == [guest]


def test_a_link_ends_after_three_days_and_a_cookie_400_days_after_it_was_seen(book):
    token = book.invite("Jo's phone", May.READ, NOW)
    assert book.invited(token, NOW + 3 * DAY - S)
    for late in (3 * DAY, 300 * DAY):
        assert book.invited(token, NOW + late) is None
        assert book.join(token, NOW + late) is None
        assert book.guests(NOW + late) == []
    cookie = book.join(token, NOW + 3 * DAY - S)
    first, then = NOW + 3 * DAY - S + 400 * DAY - S, 400 * DAY
    assert book.guest_of(cookie, first)
    assert book.guest_of(cookie, first + then - S)
    assert book.guest_of(cookie, first + 2 * then) is None
    assert book.guests(first + 2 * then) == []


def test_a_name_is_given_once(book):
    joined(book)
    with pytest.raises(UsageError, match=r"\"JO's phone\" is invited already|is invited already"):
        book.invite("JO's PHONE", May.READ, NOW)
    assert [guest.may for guest in book.guests(NOW)] == [May.WRITE]


def test_form_tokens_hold_beyond_a_restart_and_for_their_holder_only(book):
    token = book.form_token(LOOPBACK)
    again = GuestBook(book.path, ID)
    assert again.is_form_token(LOOPBACK, token)
    assert not again.is_form_token("x", token)
    assert not again.is_form_token(LOOPBACK, token[:-1])
    assert not again.is_form_token(LOOPBACK, "\N{SNOWMAN}\ud800")
    assert not GuestBook(book.path.with_name("ducks.guests"), ID).is_form_token(LOOPBACK, token)
