"""What cost birds, or could have, stands first."""

from __future__ import annotations

import numpy as np
import pytest

from daylatch.diary.audit.text import danger_words
from daylatch.diary.entries import make_entry
from diary.audit.doors import audited, due_between, later, moved, on, without

DUE = due_between()
FINE = moved(DUE)
DATE = "2027-04-02"


def told(entries, due=DUE):
    audit = audited(due, entries)
    return [(str(one.date), one.kind.value, danger_words(audit, one)) for one in audit.dangers]


def seen(what, minutes, value="", side="close", **more):
    return make_entry(later(on(DUE, DATE, side), minutes), what, value, **more)


def test_a_door_that_does_as_it_should_is_no_danger():
    assert told(FINE) == []
    assert told([*FINE, seen("all_in", 15), seen("last_in", -20), seen("seen_shut", 300)]) == []


@pytest.mark.parametrize("minutes", [20, 300])
def test_a_closing_that_did_not_happen(minutes):
    entries = [*without(FINE, DUE, DATE), seen("seen_open", minutes)]
    at = {20: "21:25", 300: "02:05"}[minutes]
    words = f"the door did not shut by itself, and was seen open at {at}"
    assert told(entries) == [(DATE, "open_at_night", words)]


def test_one_that_somebody_put_right():
    entries = [*without(FINE, DUE, DATE), seen("shut_by_hand", 95)]
    ((date, kind, words),) = told(entries)
    assert (date, kind) == (DATE, "open_at_night")
    assert words == "the door did not shut by itself, and was shut at 22:40"


def test_a_closing_that_nobody_reported_is_not_told_as_one_that_did_not_happen():
    assert told(without(FINE, DUE, DATE)) == []
    assert told([*without(FINE, DUE, DATE), seen("seen_shut", 300)]) == []


def test_one_that_came_late_in_the_dark():
    entries = [*without(FINE, DUE, DATE), seen("shut", 70, stamped_by="server")]
    assert told(entries) == [(DATE, "open_at_night", "the door shut at 22:15, 70 min late")]
    assert told([*without(FINE, DUE, DATE), seen("shut", 20, stamped_by="server")]) == []


def test_a_door_that_opened_or_stood_open_in_the_night():
    words = "the door was seen open at 00:05"
    assert told([*FINE, seen("seen_open", 180)]) == [(DATE, "open_at_night", words)]
    opened = [seen("opened", 300, stamped_by="server"), seen("shut", 302, stamped_by="server")]
    # Past midnight it is still the night of that date.
    assert told([*FINE, *opened]) == [(DATE, "open_at_night", "the door opened at 02:05")]
    assert told([*FINE, seen("seen_open", 30, side="open")]) == []


def test_a_closing_with_the_sun_up():
    entries = [*without(FINE, DUE, DATE), seen("shut", -75, stamped_by="server")]
    words = "the door shut at 19:50, 75 min early, with the Sun up"
    assert told(entries) == [(DATE, "birds_out", words)]


def test_an_opening_in_the_dark():
    fine = without(FINE, DUE, DATE, side="open")
    entries = [*fine, seen("opened", -65, side="open", stamped_by="server")]
    ((date, kind, words),) = told(entries)
    assert (date, kind) == (DATE, "open_at_night")
    assert words.endswith(", 65 min early, in the dark")


def test_birds_that_were_out_when_the_door_had_shut():
    words = "the last bird went in at 21:15, and the door had shut"
    assert told([*FINE, seen("last_in", 10)]) == [(DATE, "birds_out", words)]
    words = "2 still out at 21:20, and the door had shut"
    assert told([*FINE, seen("still_out", 15, "2")]) == [(DATE, "birds_out", words)]
    # Before it shuts that is as it should be.
    assert told([*FINE, seen("still_out", -15, "2"), seen("last_in", -1)]) == []


def test_by_a_closing_that_nobody_reported_the_due_one_counts():
    entries = [*without(FINE, DUE, DATE), seen("still_out", 15, "1")]
    words = "1 still out at 21:20, and the door was due to have shut"
    assert told(entries) == [(DATE, "birds_out", words)]


def test_birds_that_were_lost_or_hurt_stand_at_their_day():
    lost = seen("lost", 60, "2", note="a fox {by} the oak")
    assert told([*FINE, lost]) == [(DATE, "birds_lost", "2 lost: a fox {by} the oak")]


def test_each_night_is_told_once_for_each_danger():
    more = [seen("seen_open", 60), seen("seen_open", 180), seen("still_out", 60, "1")]
    kinds = [kind for _, kind, _ in told([*FINE, *more])]
    assert kinds == ["birds_out", "open_at_night"]


def test_a_night_that_ends_at_an_opening_after_shut_days():
    shut = '[[span]]\nfrom = 2027-04-03\nuntil = 2027-04-05\nshut = true\nreason = "order"\n'
    due = due_between(settings=shut)
    entries = [*moved(due), make_entry(later(on(due, DATE), 40 * 60), "seen_open")]
    assert [date for date, *_ in told(entries, due)] == [DATE]


def test_dangers_hang_on_no_order_of_entries():
    entries = [*FINE, seen("last_in", 10), seen("seen_open", 180)]
    order = np.random.default_rng(1).permutation(len(entries))
    assert told([entries[place] for place in order]) == told(entries)
