"""The fewest changes, and the least lateness: against every list there is, on small cases."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daylatch.door.timer.fewest_changes import (
    all_starts,
    fewest,
    lateness_of,
    least_in_all,
    least_late,
    settings_of,
)
from daylatch.door.timer.stretches import NO_LIMIT_MIN, TimerDays


def make(*sides, is_open=None, may_change=None, kind=None, step=1):
    count = len(sides[0])
    return TimerDays(
        np.array(sides, np.int64),
        np.ones(count, np.bool_) if is_open is None else np.array(is_open, np.bool_),
        np.ones(count, np.bool_) if may_change is None else np.array(may_change, np.bool_),
        np.zeros(count, np.int64) if kind is None else np.array(kind, np.int64),
        step,
    )


@st.composite
def cases(draw):
    count = draw(st.integers(1, 8))
    column = st.lists(st.integers(-40, 1500), min_size=count, max_size=count)
    near = st.lists(st.integers(400, 420), min_size=count, max_size=count)
    flags = st.lists(st.booleans(), min_size=count, max_size=count)
    sides = draw(st.lists(column | near, min_size=1, max_size=2))
    kinds = draw(st.lists(st.integers(0, 2), min_size=count, max_size=count))
    step = draw(st.sampled_from([1, 5, 10, 15, 30]))
    is_open = draw(flags | st.just([True] * count))
    days = make(*sides, is_open=is_open, may_change=draw(flags), kind=kinds, step=step)
    limit_min = None
    if draw(st.booleans()):
        room = draw(st.lists(st.integers(0, 40), min_size=count, max_size=count))
        limit_min = days.rounded_up(days.needed_min) + np.array(room)
        # Shut days have no limit.
        limit_min[:, ~days.is_open] = NO_LIMIT_MIN
    return replace(days, circular=draw(st.booleans()), limit_min=limit_min)


def by_hand(days, starts):
    """Return the lateness of a list, at worst and in all, written another way than the program.

    None if it goes beyond a limit.
    """
    late = [0]
    beyond = False
    for place, first in enumerate(starts):
        if place + 1 < len(starts):
            stretch = list(range(first, starts[place + 1]))
        else:
            # Over the end of a circle, if the list does not begin with the first day.
            stretch = [*range(first, len(days)), *range(starts[0])]
        for number, side in enumerate(days.needed_min.tolist()):
            for kind in (0, 1, 2):
                needed = [side[day] for day in stretch if days.kind[day] == kind]
                if needed and days.is_open[first]:
                    setting = min(
                        m for m in range(-3000, 3000) if m % days.step_min == 0 and m >= max(needed)
                    )
                    late += [setting - minutes for minutes in needed]
                    if days.limit_min is not None:
                        beyond |= any(
                            setting > days.limit_min[number, day]
                            for day in stretch
                            if days.kind[day] == kind
                        )
    return None if beyond else (max(late), sum(late))


def every_list(days):
    """Yield every list there is: it begins with each run, and else where changes are allowed."""
    count = len(days)
    edges = [d for d in range(1, count) if days.is_open[d] != days.is_open[d - 1]]
    free = [d for d in range(1, count) if d not in edges and days.may_change[d] and days.is_open[d]]
    if days.circular and days.is_open[0] == days.is_open[-1] and edges + free:
        # The first day may go on with the setting of the last.
        yield from (one for one in chosen_from(edges, free) if one)
    yield from chosen_from([0, *edges], free)


def chosen_from(edges, free):
    for size in range(len(free) + 1):
        for chosen in combinations(free, size):
            yield sorted([*edges, *chosen])


@settings(max_examples=120, deadline=None)
@given(cases(), st.integers(0, 60))
def test_no_list_that_keeps_a_tolerance_has_fewer_settings(days, tolerance):
    keep = [(len(one), *late) for one in every_list(days) if (late := by_hand(days, one))]
    keep = [measure for measure in keep if measure[1] <= tolerance]
    found = fewest(days, tolerance)
    if not keep:
        assert found is None
        # Not even the list that is late least does.
        late = by_hand(days, all_starts(days))
        assert late is None or late[0] > tolerance
        return
    assert found is not None
    assert len(found) == min(keep)[0]
    assert by_hand(days, found)[0] <= tolerance
    # Of those with as many settings: the least late in all.
    best = least_in_all(days, tolerance)
    measure = len(best), by_hand(days, best)[1]
    assert measure == min((count, in_all) for count, _, in_all in keep)


@settings(max_examples=120, deadline=None)
@given(cases(), st.integers(1, 8))
def test_no_list_with_so_many_settings_is_less_late(days, most):
    lists = [one for one in every_list(days) if len(one) <= most and by_hand(days, one)]
    found = least_late(days, most)
    if not lists:
        assert found is None
        return
    assert found == min(by_hand(days, one)[0] for one in lists)
    best = least_in_all(days, found)
    assert len(best) <= most
    assert by_hand(days, best)[0] == found


@settings(max_examples=100, deadline=None)
@given(cases(), st.integers(0, 60))
def test_settings_are_steps_and_never_early(days, tolerance):
    days = days.without_limits
    starts = fewest(days, tolerance) or all_starts(days)
    chosen = settings_of(days, starts)
    assert (chosen >= days.needed_min).all()
    assert (chosen[:, days.is_open] % days.step_min == 0).all()
    assert lateness_of(days, starts) == by_hand(days, starts)[0]


def test_a_worked_case():
    # 10 minutes of tolerance: 400 to 410, then 415 to 421, then 430.
    days = make([400, 405, 410, 415, 421, 430])
    assert fewest(days, 10) == [0, 3, 5]
    assert settings_of(days, [0, 3, 5]).tolist() == [[410, 410, 410, 421, 421, 430]]
    # Three settings need only 9 minutes; 10 + 5 + 0 + 6 + 0 + 0 in all is less than other splits.
    assert least_late(days, 3) == 9
    assert least_in_all(days, 9) == [0, 2, 4]


def test_steps_round_up():
    days = make([421], step=15)
    assert settings_of(days, [0]).tolist() == [[435]]
    assert make([-1], step=30).rounded_up(-1) == 0


@pytest.mark.parametrize(("tolerance", "starts"), [(0, None), (9, None), (13, [0, 2])])
def test_changes_only_where_they_are_allowed(tolerance, starts):
    days = make([400, 410, 420, 433], may_change=[0, 0, 1, 0])
    assert fewest(days, tolerance) == starts


def test_shut_days_are_a_stretch_of_their_own_wherever_changes_are_allowed():
    days = make([400, 0, 0, 400], is_open=[1, 0, 0, 1], may_change=[0, 0, 0, 0])
    assert fewest(days, 0) == [0, 1, 3]
    assert least_late(days, 2) is None
    assert least_late(days, 3) == 0


def test_kinds_of_days_have_settings_of_their_own():
    days = make([400, 480, 401, 481], kind=[0, 1, 0, 1])
    assert fewest(days, 1) == [0]
    assert settings_of(days, [0]).tolist() == [[401, 481, 401, 481]]


def test_a_year_that_comes_round_shares_its_first_and_last_setting():
    days = make([410, 400, 390, 400, 410, 411])
    assert fewest(days, 11) == [0, 2, 4]
    # By itself: days 2 and 3, and all others over the end.
    circle = replace(days, circular=True)
    assert fewest(circle, 11) == [1, 4]
    assert least_late(circle, 2) == 10
    assert least_in_all(circle, 11) == [1, 4]
    assert settings_of(circle, [1, 4]).tolist() == [[411, 400, 400, 400, 411, 411]]
