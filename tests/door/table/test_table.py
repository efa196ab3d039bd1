"""The controller table: nothing is lost in it, it is as short as it can be, and damage is seen."""

from __future__ import annotations

import datetime as dt
import random
import zlib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daylatch.door.table import format as fmt
from daylatch.door.table import search, tokens
from daylatch.door.table.decode import STAYS_SHUT, decode, read_stream
from daylatch.door.table.encode import encode
from daylatch.door.table.format import TableError, check_of
from daylatch.errors import PlanError, UsageError
from daylatch.plan.plan import make_plan
from peers.table_reader import RefusedError, read_table
from sites import FALLBACKS, KIRITIMATI, LORD_HOWE, SINGAPORE, TAMPERE, UTRECHT, Spot, site

TROMSO = Spot(69.65, 18.96, "Europe/Oslo")
APIA_2011 = Spot(-13.83, -171.77, "Pacific/Apia")
WIDE_RULES = (
    '[open]\nnot_before = "06:30"\nfallback = "05:30"\n'
    '[close]\nnot_after = "21:45"\nfallback = "22:30"\n'
    '[[span]]\nfrom = 2027-02-08\nuntil = 2027-02-21\nshut = true\nreason = "order"\n'
    '[[span]]\nfrom = 2027-07-01\nuntil = 2027-07-09\nopen.fixed = "07:15"\nclose.fixed = "20:00"\n'
    "[[span]]\nfrom = 2027-05-10\nuntil = 2027-05-30\nclose.offset_min = 40\n"
)
LATE = '[open]\nfallback = "05:30"\n[close]\nfallback = "00:30"\n'


def planned(plan):
    """Return what a table must say for each date: minutes by the door's clock, or why not."""
    wanted = {}
    opens = plan.on_door(plan.open_utc).wall
    closes = plan.on_door(plan.close_utc).wall
    for index, date in enumerate(plan.dates):
        if plan.is_open[index]:
            wanted[date.item()] = tuple(
                int((time[index] - date) // np.timedelta64(1, "m")) for time in (opens, closes)
            )
        else:
            wanted[date.item()] = "shut"
    first, last = plan.dates[0].item(), plan.dates[-1].item()
    for ahead in range((last - first).days):
        wanted.setdefault(first + dt.timedelta(days=ahead), "no row")
    return wanted


def assert_says(content, plan, width=0):
    """Our decoder and the one written from the reference page both give the plan."""
    table, other = decode(content), read_table(content)
    wanted = planned(plan)
    assert (table.first, table.last) == (min(wanted), max(wanted))
    for date, minutes in wanted.items():
        said, also = table.on(date), other(date)
        if isinstance(minutes, str):
            assert also == minutes
            assert said == ((STAYS_SHUT,) * 2 if minutes == "shut" else (None, None))
        else:
            assert said == also
            assert all(0 <= s - m <= width for s, m in zip(said, minutes, strict=True)), date


CASES = [
    pytest.param(UTRECHT, WIDE_RULES, "2027-01-01", "2027-12-31", "wall", 0, id="a whole year"),
    pytest.param(UTRECHT, WIDE_RULES, "2027-02-01", "2027-04-30", "standard", 2, id="standard"),
    pytest.param(UTRECHT, WIDE_RULES, "2027-06-01", "2027-07-31", "utc", 0, id="utc"),
    pytest.param(LORD_HOWE, "", "2028-09-01", "2028-10-31", "wall", 1, id="half an hour"),
    pytest.param(TAMPERE, LATE, "2027-03-01", "2027-06-15", "wall", 0, id="after midnight"),
    pytest.param(TROMSO, LATE, "2027-01-01", "2027-12-31", "wall", 1, id="white nights"),
    pytest.param(KIRITIMATI, "", "2027-01-01", "2027-03-31", "wall", 0, id="another solar day"),
    pytest.param(APIA_2011, "", "2011-12-01", "2012-01-31", "wall", 0, id="a skipped date"),
    pytest.param(SINGAPORE, "", "2027-06-05", "2027-06-05", "wall", 0, id="one day"),
]


@pytest.mark.parametrize(("spot", "rules", "first", "last", "clock", "width"), CASES)
def test_a_table_gives_the_plans_minutes(spot, rules, first, last, clock, width):
    here = site(spot, f'{rules}[door]\nclock = "{clock}"\n')
    plan = make_plan(here, dt.date.fromisoformat(first), dt.date.fromisoformat(last))
    content = encode(plan, within_min=width)
    assert decode(content).head.within_min == width
    assert_says(content, plan, width)


@settings(max_examples=12, deadline=None)
@given(
    st.sampled_from([UTRECHT, LORD_HOWE, TAMPERE, TROMSO, KIRITIMATI, SINGAPORE]),
    st.sampled_from([FALLBACKS, LATE, WIDE_RULES]),
    st.sampled_from(["wall", "standard", "utc"]),
    st.dates(dt.date(2026, 1, 1), dt.date(2036, 1, 1)),
    st.integers(0, 60),
    st.integers(0, 3),
)
def test_any_plan_comes_back(spot, rules, clock, start, length, width):
    here = site(spot, rules + f'[door]\nclock = "{clock}"\n')
    try:
        plan = make_plan(here, start, start + dt.timedelta(days=length))
    except PlanError:
        return
    assert_says(encode(plan, within_min=width), plan, width)


CLOCK_MARGINS = [(2, 1), (4, 2), (7, 2), (None, 3), (10, 5)]


@pytest.mark.parametrize(("width", "margin"), CLOCK_MARGINS)
@pytest.mark.parametrize("clock", ["wall", "utc"])
def test_a_clock_within_the_margin_keeps_the_width(width, margin, clock):
    here = site(UTRECHT, f'{WIDE_RULES}[door]\nclock = "{clock}"\n')
    plan = make_plan(here, dt.date(2027, 2, 1), dt.date(2027, 7, 20))
    content = encode(plan, within_min=width, clock_margin_min=margin)
    promised = 2 * margin if width is None else width
    assert decode(content).head.within_min == promised
    assert_says(content, plan, promised)
    ask = read_table(content)
    for date, minutes in planned(plan).items():
        if isinstance(minutes, str):
            assert ask(date) == minutes
            continue
        for shown, wanted in zip(ask(date), minutes, strict=True):
            # A fast clock shows a minute early, a slow one late.
            for wrong in range(-margin, margin + 1):
                assert 0 <= shown + wrong - wanted <= promised, date


@settings(max_examples=10, deadline=None)
@given(
    st.sampled_from([UTRECHT, LORD_HOWE, TAMPERE, TROMSO, KIRITIMATI]),
    st.sampled_from([FALLBACKS, LATE]),
    st.dates(dt.date(2026, 1, 1), dt.date(2036, 1, 1)),
    st.integers(0, 40),
    st.integers(0, 6),
    st.integers(0, 3),
)
def test_any_plan_keeps_its_width_by_a_wrong_clock(spot, rules, start, length, margin, more):
    plan = make_plan(site(spot, rules), start, start + dt.timedelta(days=length))
    content = encode(plan, within_min=2 * margin + more, clock_margin_min=margin)
    table = decode(content)
    for date, minutes in planned(plan).items():
        if not isinstance(minutes, str):
            for shown, wanted in zip(table.on(date), minutes, strict=True):
                assert margin <= shown - wanted <= margin + more


def test_a_margin_shares_years_too():
    plan = make_plan(site(SINGAPORE), dt.date(2027, 1, 1), dt.date(2028, 12, 31))
    exact = decode(encode(plan, every_year=True)).head.within_min
    content = encode(plan, every_year=True, clock_margin_min=2)
    table = decode(content)
    assert table.head.within_min == exact + 4
    for date, minutes in planned(plan).items():
        for shown, wanted in zip(table.on(date), minutes, strict=True):
            assert 2 <= shown - wanted <= exact + 2
    with pytest.raises(UsageError, match=f"differs by {exact} min between .*margin takes 4 min"):
        encode(plan, every_year=True, within_min=exact + 3, clock_margin_min=2)


@pytest.mark.parametrize(("width", "margin"), [(0, 1), (3, 2), (9, 5)])
def test_a_margin_that_leaves_nothing_of_the_width_is_refused_with_numbers(width, margin):
    plan = make_plan(site(SINGAPORE), dt.date(2027, 1, 1), dt.date(2027, 1, 20))
    words = rf"--within {width} leaves no minute .* 2 x {margin} = {2 * margin} min"
    with pytest.raises(UsageError, match=words):
        encode(plan, within_min=width, clock_margin_min=margin)


def test_several_exact_years_in_one_table():
    plan = make_plan(site(SINGAPORE), dt.date(2027, 1, 1), dt.date(2028, 12, 31))
    content = encode(plan)
    assert decode(content).head.days == 365 + 366
    assert_says(content, plan)


def test_one_table_for_all_years_keeps_the_width_that_it_promises():
    rules = '[door]\nclock = "utc"\n'
    plan = make_plan(site(UTRECHT, rules), dt.date(2026, 1, 1), dt.date(2030, 12, 31))
    content = encode(plan, every_year=True)
    width = decode(content).head.within_min
    assert 1 <= width <= 4
    assert_says(content, plan, width)
    wanted = planned(plan)
    # No width below it could be promised: on some day the years themselves differ by as much.
    spread = max(
        max(minutes[side] for minutes in same) - min(minutes[side] for minutes in same)
        for same in (
            [m for d, m in wanted.items() if (d.month, d.day) == (slot.month, slot.day)]
            for slot in wanted
            if slot.year == 2028
        )
        for side in (0, 1)
    )
    assert spread == width
    with pytest.raises(UsageError, match=f"cannot keep --within {width - 1}: the .* differs by"):
        encode(plan, every_year=True, within_min=width - 1)
    wider = encode(plan, every_year=True, within_min=width + 1)
    assert decode(wider).head.within_min == width + 1
    assert_says(wider, plan, width + 1)
    assert len(wider) < len(content)


def test_one_table_for_all_years_by_the_wall_clock_knows_each_years_changes():
    plan = make_plan(site(UTRECHT), dt.date(2027, 1, 1), dt.date(2028, 12, 31))
    content = encode(plan, every_year=True)
    table = decode(content)
    assert len(table.head.changes) == 4
    assert_says(content, plan, table.head.within_min)
    assert table.head.within_min < 5


@pytest.mark.parametrize(
    ("first", "last", "rules", "message"),
    [
        ("2027-01-02", "2029-12-31", "", "needs whole years"),
        ("2027-01-01", "2027-12-31", "", "needs more than one year"),
        (
            "2027-01-01",
            "2028-12-31",
            "[[span]]\nfrom = 2027-02-08\nuntil = 2027-02-09\nshut = true\n",
            "on 2028-02-08 the door stays shut",
        ),
    ],
)
def test_years_that_cannot_share_a_table_are_refused(first, last, rules, message):
    here = site(SINGAPORE, rules)
    plan = make_plan(here, dt.date.fromisoformat(first), dt.date.fromisoformat(last))
    with pytest.raises(UsageError, match=message):
        encode(plan, every_year=True)


def test_a_width_that_lets_movements_overtake_each_other_is_refused():
    rules = '[open]\nfixed = "12:00"\n[close]\nfixed = "12:20"\n'
    span = "[[span]]\nfrom = 2027-02-08\nuntil = 2027-02-09\n" + rules.replace("[", "[span.")
    plan = make_plan(site(SINGAPORE, span), dt.date(2027, 2, 1), dt.date(2027, 2, 12))
    with pytest.raises(UsageError, match="on 2027-02-08 the door is open for only 20 min"):
        encode(plan, within_min=20)
    assert_says(encode(plan, within_min=19), plan, 19)


def test_dates_that_a_table_cannot_say_are_refused():
    plan = make_plan(site(SINGAPORE), dt.date(1999, 12, 30), dt.date(2000, 1, 2))
    with pytest.raises(PlanError, match="2000-01-01 to 2179"):
        encode(plan)


def test_a_table_longer_than_a_table_can_be_is_refused(monkeypatch):
    plan = make_plan(site(SINGAPORE), dt.date(2027, 1, 1), dt.date(2027, 1, 20))
    content = encode(plan)
    monkeypatch.setattr("daylatch.door.table.encode.LARGEST_BYTES", len(content))
    assert encode(plan) == content
    monkeypatch.setattr("daylatch.door.table.encode.LARGEST_BYTES", len(content) - 1)
    with pytest.raises(UsageError, match=f"would have {len(content)} bytes, and .* is the most"):
        encode(plan)


@pytest.mark.parametrize(("width", "most"), [(0, 112), (1, 72)])
def test_a_solar_year_at_52_degrees_is_small_and_smaller_than_packed(width, most):
    rules = "[open]\noffset_min = 0\n[close]\noffset_min = 0\n"
    plan = make_plan(site(Spot(52, 0, "UTC"), rules), dt.date(2027, 1, 1), dt.date(2027, 12, 31))
    content = encode(plan, within_min=width)
    assert len(content) <= most
    table = decode(content)
    minutes = planned(plan).values()
    steps = [
        np.diff([minute[side] for minute in minutes]).astype(np.int8).tobytes() for side in (0, 1)
    ]
    packer = zlib.compressobj(9, zlib.DEFLATED, -15)
    packed = packer.compress(b"".join(steps)) + packer.flush()
    assert table.opening_bytes + table.closing_bytes < len(packed)


def test_the_check_is_the_named_one():
    assert check_of(b"123456789") == 0x29B1


# --- As short as it can be ------------------------------------------------------------------


STEEPEST = 10
# A jump farther from every band than a slope reaches in a day leads nowhere.
BESIDE = STEEPEST + 1


@pytest.fixture
def gentle_slopes(monkeypatch):
    """Let slopes go from -10 to 10 only, so that everything can be tried."""
    monkeypatch.setattr(search, "_SLOPES", np.arange(-STEEPEST, STEEPEST + 1))
    monkeypatch.setattr(search, "LEVEL_ROW", STEEPEST)
    monkeypatch.setattr(tokens, "LEVEL_ROW", STEEPEST)
    monkeypatch.setattr(tokens, "LEAST_SLOPE", -STEEPEST)
    monkeypatch.setattr(tokens, "MOST_SLOPE", STEEPEST)
    search._residues.cache_clear()
    yield
    search._residues.cache_clear()


def cheapest(curve, bits):
    """Return the fewest bytes for a curve: every token is tried from every state, by length.

    Written from what a token does, as the reference page says it, and not from how the search
    goes about it.
    """
    one, days = 1 << bits, len(curve.kind)
    near = {
        minute
        for day in np.flatnonzero(curve.kind == search.MOVES)
        for minute in range(curve.low[day] - BESIDE, curve.high[day] + BESIDE + 1)
    } or {0}
    waiting = {3: [(0, minute * one + part, 0) for minute in near for part in range(one)]}
    known, length = set(), 3
    while True:
        for state in waiting.pop(length, ()):
            if state in known:
                continue
            known.add(state)
            if state[0] == days:
                return length
            for need, after in successors(curve, bits, near, *state):
                if after not in known:
                    waiting.setdefault(length + need, []).append(after)
        length += 1


def fits(curve, day, minute):
    return curve.kind[day] == search.MOVES and curve.low[day] <= minute <= curve.high[day]


def successors(curve, bits, near, day, value, slope):
    one, days = 1 << bits, len(curve.kind)
    for new in range(max(slope - 8, -STEEPEST), min(slope + 7, STEEPEST) + 1):
        at = value
        for step in range(36):
            if day + step < days:
                at += new
                if not fits(curve, day + step, at >> bits):
                    break
            if step + 1 in fmt.RUNS:
                yield 1, (min(day + step + 1, days), at, new)
    yield 1, (day, value, 0)
    for minute in near:
        jump = minute - (value >> bits)
        yield (2 if -128 <= jump <= 127 else 3), (day, value + jump * one, slope)
    for new in range(-STEEPEST, STEEPEST + 1):
        yield 2, (day, value, new)
    for kind in (search.STAYS_SHUT, search.WITHOUT_ROW):
        for count in range(1, days - day + 1):
            if curve.kind[day + count - 1] != kind:
                break
            yield 2, (day + count, value, slope)
    for count in range(1, days - day + 1):
        if not fits(curve, day + count - 1, value >> bits):
            break
        yield 2, (day + count, value, 0)


def small_curves():
    chance = random.Random(7)
    curves = []
    for number in range(12):
        days = chance.randint(2, 9)
        steps = [chance.choice((0, 0, 1, -1, 2, -3, 7)) for _ in range(days)]
        low = np.cumsum(steps) + 400
        high = low + [chance.choice((0, 0, 1)) for _ in range(days)]
        kind = np.array([chance.choice((0, 0, 0, 0, 1, 2)) for _ in range(days)], np.int8)
        curves.append(search.Curve(kind * (number % 2), low, high))
    for minutes in ([390] * 9, [300, 300, 301, 480, 481, 482], [400, 401, 402, 380, 383, 386, 389]):
        low = np.array(minutes)
        curves.append(search.Curve(np.zeros(len(low), np.int8), low, low))
    # Jumps of which some are near and others far, by where in the band they begin.
    low = np.array([400, 527, 400, 271, 399])
    curves.append(search.Curve(np.zeros(len(low), np.int8), low, low + 2))
    return curves


@pytest.mark.parametrize("curve", small_curves(), ids=lambda curve: f"{len(curve.kind)} days")
@pytest.mark.parametrize("bits", [0, 1])
def test_no_sequence_of_tokens_is_shorter(curve, bits, gentle_slopes):
    stream = tokens.shortest_tokens(curve, bits)
    assert len(stream) == cheapest(curve, bits)
    assert fits_all(curve, read_stream(stream, len(curve.kind)))
    # A search that may be given up early is not given up too early.
    assert tokens.shortest_tokens(curve, bits, len(stream) + 1) == stream
    assert tokens.shortest_tokens(curve, bits, len(stream)) is None


@pytest.mark.parametrize(("width", "margin"), [(2, 1), (5, 2)])
def test_no_table_with_a_margin_is_shorter(width, margin, gentle_slopes, monkeypatch):
    """Against every sequence of tokens within what the margin leaves of the band."""
    monkeypatch.setattr(tokens, "_ORDER_OF_BITS", (0, 1))
    span = "[[span]]\nfrom = 2027-03-04\nuntil = 2027-03-05\nshut = true\n"
    here = site(UTRECHT, f'{span}[door]\nclock = "utc"\n')
    plan = make_plan(here, dt.date(2027, 3, 1), dt.date(2027, 3, 9))
    table = decode(encode(plan, within_min=width, clock_margin_min=margin))
    kind = np.where(plan.is_open, search.MOVES, search.STAYS_SHUT).astype(np.int8)
    for side, length in ((0, table.opening_bytes), (1, table.closing_bytes)):
        wanted = np.array([0 if m == "shut" else m[side] for m in planned(plan).values()])
        curve = search.Curve(kind, wanted + margin, wanted + width - margin)
        assert length == min(cheapest(curve, bits) for bits in (0, 1))


def fits_all(curve, values):
    for day, value in enumerate(values):
        kind = {STAYS_SHUT: search.STAYS_SHUT, None: search.WITHOUT_ROW}.get(value, search.MOVES)
        if kind != curve.kind[day] or (kind == search.MOVES and not fits(curve, day, value)):
            return False
    return True


def test_the_shortest_stream_is_that_of_the_best_fraction():
    low = np.round(400 + 60 * np.cos(np.arange(60) / 12)).astype(int)
    curve = search.Curve(np.zeros(60, np.int8), low, low + 1)
    lengths = [len(tokens.shortest_tokens(curve, bits)) for bits in range(6)]
    shortest = tokens.shortest_stream(curve)
    assert len(shortest) == min(lengths) < len(tokens.raw_stream(curve))
    assert fits_all(curve, read_stream(shortest, 60))
    assert tokens.shortest_stream(curve, len(shortest)) is None
    assert tokens.shortest_stream(curve, len(shortest) + 1) == shortest


@pytest.mark.parametrize("clock", ["wall", "utc"])
def test_each_search_is_counted_as_progress(clock):
    plan = make_plan(
        site(UTRECHT, f'[door]\nclock = "{clock}"\n'), dt.date(2027, 3, 20), dt.date(2027, 4, 2)
    )
    told = []
    content = encode(plan, on_progress=lambda done, of: told.append((done, of)))
    assert content == encode(plan)
    # Six numbers of fraction bits, two streams, with the clock's change in them and without.
    of = 24 if clock == "wall" else 12
    assert told == [(done, of) for done in range(1, of + 1)]


def test_progress_is_counted_for_a_table_of_all_years():
    plan = make_plan(site(SINGAPORE), dt.date(2027, 1, 1), dt.date(2028, 12, 31))
    told = []
    encode(plan, every_year=True, on_progress=lambda done, of: told.append((done, of)))
    assert told == [(done, 12) for done in range(1, 13)]


def test_what_no_curve_follows_is_written_raw():
    low = np.array([random.Random(day).randint(-700, 2100) for day in range(60)])
    kind = np.zeros(60, np.int8)
    kind[5], kind[9] = search.STAYS_SHUT, search.WITHOUT_ROW
    curve = search.Curve(kind, low, low)
    stream = tokens.shortest_stream(curve)
    assert stream == tokens.raw_stream(curve)
    assert fits_all(curve, read_stream(stream, 60))


def test_counts_longer_than_a_byte():
    kind = np.zeros(900, np.int8)
    kind[20:600] = search.STAYS_SHUT
    low = np.full(900, 420)
    curve = search.Curve(kind, low, low)
    stream = tokens.shortest_stream(curve)
    assert fits_all(curve, read_stream(stream, 900))
    # Start; a run of 20 days; three counts for 580; runs of 9 and 36 and a hold of 255 for 300.
    assert len(stream) == 3 + 1 + 3 * 2 + 1 + 1 + 2


# --- Damage -----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def a_table():
    here = site(UTRECHT, WIDE_RULES)
    return encode(make_plan(here, dt.date(2027, 1, 20), dt.date(2027, 4, 20)))


def test_every_flipped_bit_is_seen(a_table):
    for place in range(len(a_table) * 8):
        damaged = bytearray(a_table)
        damaged[place // 8] ^= 1 << place % 8
        with pytest.raises(TableError):
            decode(bytes(damaged))
        with pytest.raises(RefusedError):
            read_table(bytes(damaged))


def test_every_shortened_or_lengthened_file_is_seen(a_table):
    for end in range(len(a_table)):
        with pytest.raises(TableError):
            decode(a_table[:end])
    for more in (b"\0", a_table):
        with pytest.raises(TableError):
            decode(a_table + more)


def sealed(content):
    content = bytearray(content)
    content[4:6] = (len(content) + 2).to_bytes(2, "little")
    return bytes(content) + check_of(bytes(content)).to_bytes(2, "little")


def test_hostile_bytes_with_a_good_check_are_read_or_refused_alike(a_table):
    chance = random.Random(11)
    read = 0
    for _ in range(3000):
        content = bytearray(a_table[:-2])
        for _ in range(chance.randint(1, 4)):
            content[chance.randrange(2, len(content))] = chance.choice(
                (0, 1, 0x7F, 0x80, 0xFF, *range(0xF0, 0xF8), chance.randrange(256))
            )
        content = sealed(content[: chance.choice((len(content), chance.randrange(16, 90)))])
        try:
            table = decode(content)
        except TableError:
            with pytest.raises(RefusedError):
                read_table(content)
            continue
        read += 1
        other = read_table(content)
        for ahead in range(0, table.head.days, 7):
            date = table.first + dt.timedelta(days=ahead)
            said = table.on(date)
            if isinstance(said[0], int):
                assert said == other(date)
            else:
                assert other(date) == ("no row" if said[0] is None else "shut")
    assert read > 20


@settings(max_examples=400, deadline=None)
@given(st.binary(max_size=120), st.binary(min_size=16, max_size=16))
def test_any_bytes_with_a_good_check_end_in_an_answer(streams, rest):
    content = sealed(fmt.MAGIC + bytes([fmt.VERSION]) + rest[:12] + streams)
    try:
        decode(content)
    except TableError:
        with pytest.raises(RefusedError):
            read_table(content)
    else:
        read_table(content)


@pytest.mark.parametrize("date", [dt.date(2027, 1, 19), dt.date(2027, 4, 21), dt.date(2028, 2, 1)])
def test_a_date_outside_is_not_known(a_table, date):
    with pytest.raises(LookupError):
        decode(a_table).on(date)
