"""How often somebody may ask."""

from __future__ import annotations

import pytest

from daylatch.home.limits import Allowance, Rate, host_in


def test_so_often_at_once_and_so_often_a_minute():
    rate = Rate(Allowance(3, 6))
    assert [rate.allows("a", 0.0) for _ in range(5)] == [True, True, True, False, False]
    assert rate.allows("b", 0.0)
    assert not rate.allows("a", 9.9)
    assert rate.allows("a", 20.0)
    # A long pause saves up no more than the first time.
    assert [rate.allows("a", 9999.0) for _ in range(4)] == [True, True, True, False]


def test_many_strangers_take_no_memory():
    rate = Rate(Allowance(1, 1))
    for number in range(30_000):
        rate.allows(str(number), 0.0)
    assert len(rate._left) <= 10_000


@pytest.mark.parametrize(
    ("header", "name"),
    [
        ("Hens.Example.org:8734", "hens.example.org"),
        ("127.0.0.1", "127.0.0.1"),
        ("[::1]:8734", "::1"),
        ("", ""),
        (" x ", "x"),
    ],
)
def test_the_name_by_which_it_is_asked(header, name):
    assert host_in(header) == name
