"""A timer's list at real places: driven day by day through the clock changes, and as it is said."""

from __future__ import annotations

import datetime as dt
import re
from itertools import combinations, pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from daylatch.door.timer.timer_list import make_timer_list
from daylatch.errors import PlanError, SiteError
from daylatch.site.timer import WEEKDAYS, Timer
from daylatch.sun.crossings import SkyState
from sites import FALLBACKS, LORD_HOWE, SINGAPORE, UTRECHT, Spot, plan, site

# Dusk falls after midnight there in June.
NORTH = Spot(59.5, 24.0, "Europe/Helsinki")
SHUT = "[[span]]\nfrom = 2027-02-08\nuntil = 2027-02-21\nshut = true\n"
WEEKENDS = "".join(
    f"[[span]]\nfrom = 2027-{month:02d}-{day:02d}\nuntil = 2027-{month:02d}-{day + 1:02d}\n"
    'open.fixed = "08:45"\n'
    for month, day in ((3, 6), (3, 13), (3, 20))
)
STANDARD = '[door]\nclock = "standard"\n'


def timer(text=""):
    """Return the table as a file has it."""
    return site(UTRECHT, f"[timer]\n{text}").settings.timer or Timer.model_construct()


def drive(found):
    """Yield each open day's planned and real movements, by a timer that only knows its settings.

    The time zones come from the standard library, and not from the program.
    """
    zone = ZoneInfo(found.plan.site.zone)
    rows = {setting.first: setting for setting in found.settings}
    assert sorted(rows) == [setting.first for setting in found.settings]
    now = None
    programmed = {}
    for index, date in enumerate(found.plan.dates.tolist()):
        now = rows.get(date, now)
        if date in rows:
            for program in now.programs:
                for weekday in program.weekdays:
                    if program.minutes != (None, None):
                        programmed[weekday] = program
        assert now.is_open == bool(found.plan.is_open[index])
        if not now.is_open:
            continue
        program = programmed[WEEKDAYS[date.weekday()]]
        real = []
        for minutes in program.minutes:
            naive = dt.datetime.combine(date, dt.time()) + dt.timedelta(minutes=minutes)
            match found.clock.value:
                case "wall":
                    instant = naive.replace(tzinfo=zone).astimezone(dt.UTC)
                case "standard":
                    winter = min(
                        dt.datetime(date.year, month, 1, tzinfo=zone).utcoffset()
                        for month in range(1, 13)
                    )
                    instant = (naive - winter).replace(tzinfo=dt.UTC)
                case "utc":
                    instant = naive.replace(tzinfo=dt.UTC)
            real.append(instant)
        planned = [
            column[index].item().replace(tzinfo=dt.UTC)
            for column in (found.plan.open_utc, found.plan.close_utc)
        ]
        yield now, program, planned, real


CASES = [
    (UTRECHT, "", ""),
    (UTRECHT, "tolerance_min = 30", SHUT + STANDARD),
    (UTRECHT, "tolerance_min = 25\ntogether = false\nstep_min = 15", SHUT),
    (
        UTRECHT,
        'changes = 16\npast_guard = true\nby_weekday = ["saturday", "sunday"]',
        WEEKENDS + STANDARD,
    ),
    (UTRECHT, 'changes = 30\nby_weekday = "each"\nstep_min = 5', WEEKENDS),
    (UTRECHT, 'changes = 20\npast_guard = true\non = ["sunday"]', SHUT),
    (UTRECHT, 'changes = 12\npast_guard = true\non = "month starts"\ntogether = false', ""),
    (SINGAPORE, "tolerance_min = 5", ""),
    (LORD_HOWE, "tolerance_min = 10", ""),
    (LORD_HOWE, "tolerance_min = 10\nstep_min = 10", '[door]\nclock = "utc"\n'),
    (NORTH, "tolerance_min = 60", "[close]\noffset_min = 75\n"),
]


MARGIN_CASES = [
    (UTRECHT, "clock_margin_min = 3", SHUT),
    (UTRECHT, "tolerance_min = 30\nclock_margin_min = 7", STANDARD),
    (UTRECHT, "tolerance_min = 45\ntogether = false\nstep_min = 15\nclock_margin_min = 5", SHUT),
    (UTRECHT, 'changes = 30\nby_weekday = "each"\nclock_margin_min = 4', WEEKENDS),
    (
        LORD_HOWE,
        "changes = 20\npast_guard = true\nstep_min = 5\nclock_margin_min = 2",
        '[door]\nclock = "utc"\n',
    ),
    (NORTH, "tolerance_min = 60\nclock_margin_min = 10", "[close]\noffset_min = 75\n"),
]


@pytest.mark.parametrize(("spot", "keys", "more"), MARGIN_CASES)
def test_a_clock_within_the_margin_keeps_the_tolerance(spot, keys, more):
    wanted = timer(keys)
    margin = wanted.clock_margin_min
    assert margin > 0
    found = make_timer_list(plan(spot, "2027-01-01", "2027-12-31", more), wanted)
    worst = [0, 0]
    for setting, program, planned, real in drive(found):
        for side in (0, 1):
            assert program.minutes[side] % wanted.step_min == 0
            for wrong in range(-margin, margin + 1):
                late = (real[side] - planned[side]) / dt.timedelta(minutes=1) + wrong
                assert 0 <= late <= program.late_min[side], setting.first
                worst[side] = max(worst[side], late)
    assert tuple(worst) == found.worst_min
    if wanted.changes is None:
        assert max(worst) <= (20 if wanted.tolerance_min is None else wanted.tolerance_min)
    else:
        assert max(found.counts) <= wanted.changes


@pytest.mark.parametrize("margin", [0, 1, 3])
@pytest.mark.parametrize("step", [1, 5])
def test_no_list_with_a_margin_is_better(margin, step):
    """Against every list of nine days, reckoned from the plan and the clock's two extremes."""
    nine = plan(UTRECHT, "2027-03-10", "2027-03-18")
    needed = [
        [int((t - d) / np.timedelta64(1, "m")) for t, d in zip(wall, nine.dates, strict=True)]
        for wall in (nine.on_wall(nine.open_utc).wall, nine.on_wall(nine.close_utc).wall)
    ]

    def late(starts):
        worst = 0
        for first, behind in zip(starts, [*starts[1:], 9], strict=True):
            for side in needed:
                days = side[first:behind]
                # By a fast clock none of them is early; by a slow one, this late.
                setting = next(m for m in range(0, 2000, step) if m - margin >= max(days))
                worst = max(worst, setting + margin - min(days))
        return worst

    lists = [[0, *rest] for size in range(9) for rest in combinations(range(1, 9), size)]
    for tolerance in (2 * margin + step, 12, 20):
        found = make_timer_list(
            nine,
            timer(
                f"past_guard = true\ntolerance_min = {tolerance}\nstep_min = {step}\n"
                f"clock_margin_min = {margin}"
            ),
        )
        assert found.counts == (min(len(one) for one in lists if late(one) <= tolerance),)
    for changes in (1, 2, 4):
        found = make_timer_list(
            nine,
            timer(
                f"past_guard = true\nchanges = {changes}\n"
                f"step_min = {step}\nclock_margin_min = {margin}"
            ),
        )
        assert max(found.worst_min) == min(late(one) for one in lists if len(one) <= changes)


def test_a_margin_that_leaves_nothing_is_refused_with_numbers():
    with pytest.raises(PlanError, match=r"20 min leaves nothing for a clock margin of 11 .*= 22"):
        make_timer_list(plan(UTRECHT, "2027-03-10", "2027-03-18"), timer("clock_margin_min = 11"))
    with pytest.raises(PlanError, match=r"step.* of 15 min and a clock margin of 2 min, the least"):
        make_timer_list(
            plan(UTRECHT, "2027-03-10", "2027-03-18"),
            timer("tolerance_min = 4\nstep_min = 15\nclock_margin_min = 2"),
        )


def test_a_margin_in_which_movements_could_meet_is_refused():
    fixed = (
        '[[span]]\nfrom = 2027-03-10\nuntil = 2027-03-18\nopen.fixed = "12:00"\n'
        'close.fixed = "12:20"\n'
    )
    nine = plan(UTRECHT, "2027-03-10", "2027-03-18", fixed)
    make_timer_list(nine, timer("changes = 1\nclock_margin_min = 9"))
    with pytest.raises(PlanError, match=r"one movement passes the next: .* smaller clock margin"):
        make_timer_list(nine, timer("changes = 1\nclock_margin_min = 10"))


def test_a_setting_made_a_day_late_counts_a_fast_clock():
    ten = plan(UTRECHT, "2027-03-10", "2027-03-19")
    exact, margin = (
        make_timer_list(ten, timer(f"tolerance_min = {4 + 2 * m}\nclock_margin_min = {m}"))
        for m in (0, 3)
    )
    assert margin.counts == exact.counts
    assert margin.early_if_missed_min == exact.early_if_missed_min
    assert margin.monthly_worst_min == exact.monthly_worst_min + 6


@pytest.mark.parametrize(("spot", "keys", "more"), CASES)
def test_the_door_is_never_early_and_late_by_no_more_than_said(spot, keys, more):
    wanted = timer(keys)
    found = make_timer_list(plan(spot, "2027-01-01", "2027-12-31", more), wanted)
    worst = [0, 0]
    said = {}
    before = None
    for setting, program, planned, real in drive(found):
        for side in (0, 1):
            late = (real[side] - planned[side]) / dt.timedelta(minutes=1)
            assert late >= 0
            assert program.minutes[side] % wanted.step_min == 0
            worst[side] = max(worst[side], late)
            key = setting.first, program.weekdays, side
            said[key] = max(said.get(key, 0), late)
        assert real[0] < real[1]
        assert before is None or before < real[0]
        before = real[1]
    assert tuple(worst) == found.worst_min
    for setting in found.settings:
        for program in setting.programs:
            for side in (0, 1):
                key = setting.first, program.weekdays, side
                assert said.get(key) == program.late_min[side]
    if wanted.changes is None:
        assert max(worst) <= (20 if wanted.tolerance_min is None else wanted.tolerance_min)
    else:
        assert max(found.counts) <= wanted.changes


def test_dates_are_only_those_that_the_keeper_allows_and_those_around_shut_days():
    found = make_timer_list(
        plan(UTRECHT, "2027-01-01", "2027-12-31", SHUT), timer('changes = 25\non = ["sunday"]')
    )
    others = [s.first for s in found.settings if s.first.weekday() != WEEKDAYS.index("sunday")]
    assert others == [dt.date(2027, 1, 1), dt.date(2027, 2, 8), dt.date(2027, 2, 22)]
    off = [setting for setting in found.settings if not setting.is_open]
    assert [(s.first, s.last) for s in off] == [(dt.date(2027, 2, 8), dt.date(2027, 2, 21))]


def test_every_date_is_in_one_setting():
    found = make_timer_list(plan(UTRECHT, "2027-03-01", "2027-06-30", ""), timer())
    assert found.settings[0].first == dt.date(2027, 3, 1)
    assert found.settings[-1].last == dt.date(2027, 6, 30)
    for earlier, later in pairwise(found.settings):
        assert earlier.last + dt.timedelta(days=1) == later.first
    assert not found.comes_round


def test_a_whole_year_shares_its_first_and_last_setting_and_counts_it_once():
    found = make_timer_list(
        plan(UTRECHT, "2027-01-01", "2027-12-31"), timer("changes = 12\npast_guard = true")
    )
    assert found.comes_round
    assert found.counts == (12,)
    assert len(found.settings) == 13
    first, last = found.settings[0].programs[0], found.settings[-1].programs[0]
    assert first.minutes == last.minutes


def test_a_timer_that_does_not_follow_the_clock_needs_no_change_with_it():
    follows, keeps = (
        make_timer_list(plan(UTRECHT, "2027-01-01", "2027-12-31", more), timer())
        for more in ("", STANDARD)
    )
    dates = [[s.first for s in found.settings] for found in (follows, keeps)]
    for change in (dt.date(2027, 3, 28), dt.date(2027, 10, 31)):
        assert change in dates[0]
    assert keeps.counts < follows.counts
    # In January both clocks are the same.
    assert follows.settings[0].programs[0].minutes == pytest.approx(
        keeps.settings[0].programs[0].minutes, abs=20
    )


def test_a_timer_keeps_what_the_doors_clock_keeps():
    times = {}
    for clock in ("utc", "standard", "wall"):
        day = plan(UTRECHT, "2027-06-01", None, f'[door]\nclock = "{clock}"\n')
        found = make_timer_list(day, timer())
        assert found.clock.value == clock
        times[clock] = found.settings[0].programs[0].minutes[0]
    assert times["standard"] - times["utc"] == 60
    assert times["wall"] - times["utc"] == 120


def test_weekends_of_their_own_cost_nothing_with_a_timer_that_holds_them():
    march = plan(UTRECHT, "2027-03-01", "2027-03-21", WEEKENDS)
    same = make_timer_list(march, timer("tolerance_min = 30"))
    own = make_timer_list(march, timer('tolerance_min = 30\nby_weekday = ["sunday", "saturday"]'))
    assert own.counts < same.counts
    weekend = own.settings[0].programs[1]
    assert weekend.weekdays == ("saturday", "sunday")
    assert (weekend.minutes[0], weekend.late_min[0]) == (525, 0)


def test_a_closing_after_midnight_counts_on_from_its_own_date():
    white = plan(
        Spot(64.5, 25.0, "Europe/Helsinki"),
        "2027-06-01",
        "2027-06-20",
        FALLBACKS.replace("22:30", "00:20"),
    )
    found = make_timer_list(white, timer())
    assert found.settings[0].programs[0].minutes == (330, 1460)
    assert found.worst_min == (0, 0)


def test_how_early_the_door_moves_if_a_setting_is_made_a_day_late():
    autumn = plan(UTRECHT, "2027-09-01", "2027-09-30")
    found = make_timer_list(autumn, timer("tolerance_min = 15"))
    missed = 0
    for earlier, later in pairwise(found.settings):
        index = autumn.index_of(later.first)
        for side, column in enumerate((autumn.open_utc, autumn.close_utc)):
            planned = autumn.on_wall(column).wall[index] - autumn.dates[index]
            had = np.timedelta64(earlier.programs[0].minutes[side], "m")
            missed = max(missed, int((planned - had) / np.timedelta64(1, "m")))
    assert found.early_if_missed_min == missed == 2


@pytest.mark.parametrize(
    ("keys", "more", "message"),
    [
        ("tolerance_min = 4\nstep_min = 30", "", "no list keeps a tolerance of 4 min.* 30 min, th"),
        ('tolerance_min = 20\non = "month starts"', "", r"on the dates that you .* is \d+ min"),
        ("tolerance_min = 1\ntogether = false\nstep_min = 15", "", "no list of opening keeps"),
        ("changes = 2", SHUT, "2 settings cannot cover .* they need 2|they need 3"),
    ],
)
def test_what_cannot_be_met_is_refused_with_numbers(keys, more, message):
    year = plan(UTRECHT, "2027-01-01", "2027-03-31", more)
    with pytest.raises(PlanError, match=message):
        make_timer_list(year, timer(keys))


def fixed(date, opening, closing):
    return (
        f'[[span]]\nfrom = {date}\nuntil = {date}\nopen.fixed = "{opening}"\n'
        f'close.fixed = "{closing}"\n'
    )


def test_times_that_meet_are_refused():
    # Both become 12:30 in steps of half an hour.
    brief = plan(UTRECHT, "2027-03-01", None, fixed("2027-03-01", "12:01", "12:20"))
    with pytest.raises(PlanError, match=r"around 2027-03-01 .* from 12:30 to 12:30.* finer steps"):
        make_timer_list(brief, timer("step_min = 30\ntolerance_min = 60"))
    # A closing at 01:10 becomes 01:30, and so does the opening at 01:29 behind it.
    spans = fixed("2027-07-01", "08:00", "01:10") + fixed("2027-07-02", "01:29", "21:00")
    white = plan(NORTH, "2027-07-01", "2027-07-02", spans)
    with pytest.raises(PlanError, match=r"around 2027-07-01 .* passes the next"):
        make_timer_list(white, timer("step_min = 30\ntolerance_min = 60"))
    assert len(make_timer_list(white, timer("tolerance_min = 60")).settings) == 2


DUNEDIN = Spot(-45.87, 170.50, "Pacific/Auckland")
GUARDED = [
    (DUNEDIN, "tolerance_min = 30", ""),
    (DUNEDIN, "tolerance_min = 40\nstep_min = 15\nclock_margin_min = 3", ""),
    (DUNEDIN, "changes = 19\ntogether = false", '[door]\nclock = "standard"\n'),
    (UTRECHT, 'tolerance_min = 45\nby_weekday = ["sunday"]', SHUT),
    (SINGAPORE, "tolerance_min = 30", "[close]\noffset_min = 18\n"),
    (NORTH, "tolerance_min = 60", "[day]\nguard = 9.5\n"),
    (
        DUNEDIN,
        "tolerance_min = 25",
        '[[span]]\nfrom = 2027-06-01\nuntil = 2027-06-10\nclose.fixed = "21:30"\n',
    ),
]


def beyond_guard(found):
    """Return by how much each closing comes after the guard, by a slow clock [min]; 0 if before.

    Where what is planned is past it by itself, counted from that in the timer's steps.
    """
    guard, margin = found.plan.guard, found.timer.clock_margin_min
    offset = found.plan.on_door(found.plan.close_utc).offset
    beyond = []
    for index in np.flatnonzero(found.plan.is_open):
        planned = found.plan.close_utc[index] + offset[index] + np.timedelta64(margin, "m")
        minutes = planned.astype(int)
        least = -(-minutes // found.timer.step_min) * found.timer.step_min - offset[index].astype(
            int
        )
        moved = int(found.moved_utc[1][index].astype(int))
        sky = SkyState(guard.close_sky[index])
        if sky is SkyState.ALWAYS_ABOVE:
            beyond.append(0)
        elif sky is SkyState.ALWAYS_BELOW:
            beyond.append(max(0, moved - least))
        else:
            bound = int(guard.close_utc[index].astype(int)) - margin
            beyond.append(max(0, moved - max(bound, least)))
    return beyond


@pytest.mark.parametrize(("spot", "keys", "more"), GUARDED)
def test_no_closing_comes_after_the_guard(spot, keys, more):
    year = plan(spot, "2027-01-01", "2027-12-31", more)
    found = make_timer_list(year, timer(keys))
    assert max(beyond_guard(found)) == 0
    free = make_timer_list(year, timer(f"{keys}\npast_guard = true"))
    assert max(beyond_guard(free)) > 0
    cost = found.guard_cost
    assert cost.dates > 0
    if found.timer.changes is None:
        assert (cost.changes, cost.late_min) == (sum(found.counts) - sum(free.counts), 0)
    else:
        assert (cost.changes, cost.late_min) == (0, found.worst_min[1] - free.worst_min[1])
    assert free.guard_cost == (0, 0, 0)


def test_the_guard_of_a_winter_evening_is_kept():
    """Due 18:17 against nautical dusk 18:11:35 on 20 June is what must not happen."""
    year = plan(DUNEDIN, "2027-01-01", "2027-12-31")
    index = year.index_of(dt.date(2027, 6, 20))
    wall = {}
    for keys in ("", "\npast_guard = true"):
        closing = make_timer_list(year, timer(f"tolerance_min = 30{keys}")).moved_utc[1]
        wall[keys] = str(year.on_wall(closing).wall[index])
    assert wall["\npast_guard = true"] > "2027-06-20T18:11" >= wall[""]


def test_changes_too_few_for_the_guard_are_refused_with_how_many_are_needed():
    year = plan(DUNEDIN, "2027-01-01", "2027-12-31")
    with pytest.raises(PlanError, match=r"needs (\d+): allow .* past_guard = true") as refused:
        make_timer_list(year, timer("changes = 6"))
    needed = int(re.search(r"needs (\d+)", str(refused.value))[1])
    assert max(beyond_guard(make_timer_list(year, timer(f"changes = {needed}")))) == 0
    with pytest.raises(PlanError, match="that needs"):
        make_timer_list(year, timer(f"changes = {needed - 1}"))


def test_dates_too_few_for_the_guard_are_refused():
    year = plan(DUNEDIN, "2027-01-01", "2027-12-31")
    with pytest.raises(PlanError, match=r"guard on the dates .* past_guard = true"):
        make_timer_list(year, timer('changes = 12\non = "month starts"'))


def test_a_plan_without_an_open_day_and_one_of_many_years_are_refused():
    with pytest.raises(PlanError, match="stays shut on every day"):
        make_timer_list(plan(UTRECHT, "2027-02-08", "2027-02-21", SHUT), timer())
    with pytest.raises(PlanError, match="at most ten years"):
        make_timer_list(plan(UTRECHT, "2027-01-01", "2037-12-31"), timer())


@pytest.mark.parametrize(
    ("first", "last", "spans"),
    [
        # 02:30 does not exist on 2027-03-28: a timer that jumps over it does not move the door.
        (
            "2027-03-27",
            "2027-03-28",
            fixed("2027-03-27", "02:30", "20:00") + fixed("2027-03-28", "01:50", "20:00"),
        ),
        # 02:30 comes twice on 2027-10-31, and the plan opens at the second.
        ("2027-10-31", "2027-10-31", fixed("2027-10-31", "02:30", "18:00")),
    ],
)
def test_a_clock_change_at_the_hour_of_a_movement_is_refused(first, last, spans):
    night, standard = (plan(UTRECHT, first, last, spans + more) for more in ("", STANDARD))
    message = f"clock changes on {last} at the hour of the opening, .* 02:30"
    with pytest.raises(PlanError, match=message):
        make_timer_list(night, timer("tolerance_min = 60"))
    found = make_timer_list(standard, timer("tolerance_min = 60"))
    assert found.worst_min[0] <= 60


@pytest.mark.parametrize(
    ("keys", "message"),
    [
        ("tolerance_min = -1", "timer.tolerance_min = -1"),
        ("changes = 0", "timer.changes = 0"),
        ("changes = 12\ntolerance_min = 20", "or changes, for the least lateness"),
        ("programs = 1", "opening and closing need 2 programs, and programs = 1"),
        ('programs = 3\nby_weekday = ["sunday"]', "2 kinds of weekday need 4 programs"),
        ('programs = 13\nby_weekday = "each"', "7 kinds of weekday need 14 programs"),
        ("holds_dates = true", "holds_dates = true needs programs, .* such as programs = 8"),
        ("holds_dates = true\nprograms = 4\ntogether = false", "leave together out"),
        ('past_guard = "no"', 'timer.past_guard = "no"'),
        ('on = ["funday"]', 'timer.on = .*write "any"'),
        ("on = []", 'timer.on = .*write "any"'),
        ("by_weekday = true", 'timer.by_weekday = true: write "same"'),
        ("step_min = 7", "timer.step_min = 7"),
    ],
)
def test_slips_in_the_table_are_named(keys, message):
    with pytest.raises(SiteError, match=message):
        timer(keys)


@pytest.mark.parametrize(("programs", "at_once"), [(2, 1), (5, 2), (8, 4)])
def test_so_many_settings_as_the_programs_hold_are_put_in_at_once(programs, at_once):
    year = plan(UTRECHT, "2027-01-01", "2027-12-31", SHUT)
    dates = f"programs = {programs}\nholds_dates = true\n"
    found = make_timer_list(year, timer(f"{dates}tolerance_min = 20"))
    alone = make_timer_list(year, timer("tolerance_min = 20"))
    assert [s.first for s in found.settings] == [s.first for s in alone.settings]
    visits = found.visits
    assert {len(visit) for visit in visits[:-1]} == {at_once}
    assert len(visits) == -(-len(found.settings) // at_once)
    assert all(one.put_in == visit[0].first for visit in visits for one in visit)
    # So many visits may have as many more settings.
    often = make_timer_list(year, timer(f"{dates}changes = 30"))
    assert len(often.visits) <= 30 + often.comes_round
    as_many = make_timer_list(year, timer(f"changes = {30 * at_once}"))
    assert often.worst_min == as_many.worst_min


def test_all_seven_weekdays_are_no_weekdays_of_their_own():
    with pytest.raises(SiteError, match="by_weekday"):
        timer(f"by_weekday = {list(WEEKDAYS)}".replace("'", '"'))
