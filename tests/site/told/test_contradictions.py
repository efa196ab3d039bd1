"""Settings that are good alone and do not go together: each is told, and its remedy ends it."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daylatch.clock import WallTime, zone_at
from daylatch.site.reading.site_file import load_site, read_site
from daylatch.site.starter.text import Start, starter_text
from daylatch.site.tables import TABLES
from daylatch.site.told.contradictions import contradictions
from daylatch.site.told.words import describe_site
from sites import ID, LORD_HOWE, SINGAPORE, TAMPERE, UTRECHT
from sites import site as site_at

ROOT = Path(__file__).resolve().parents[3]
TODAY = dt.date(2027, 1, 15)
SPAN = "[[span]]\nfrom = 2027-03-01\nuntil = 2027-03-14\n"


def found(settings, head="", spot=UTRECHT, today=TODAY):
    """Return what contradicts in a site with these settings."""
    return list(contradictions(site_at(spot, settings, head=head), today))


# For each pair: what contradicts, how it begins (both keys with their values), words of the remedy,
# and settings that follow the remedy.
TIMER = '[door]\nworks = "timer"\n[timer]\n'
PAIRS = {
    "a skyline of azimuths alone": (
        "[skyline]\nazimuth = [0, 90]",
        "skyline.azimuth and no skyline.elevation: ",
        "add elevation, with a number for each of the other's",
        "[skyline]\nazimuth = [0, 90]\nelevation = [1, 2]",
    ),
    "a certificate without its key": (
        '[home]\ncertificate = "hens.pem"',
        'home.certificate = "hens.pem" and no home.key: ',
        "give key too, or take certificate out",
        '[home]\ncertificate = "hens.pem"\nkey = "hens.key"',
    ),
    "topics without a broker": (
        '[mqtt]\nlink = "hens/link"',
        'mqtt.link = "hens/link" and no mqtt.host: ',
        "give host, or take [mqtt] out",
        '[mqtt]\nhost = "x"\nlink = "hens/link"',
    ),
    "a broker without topics": (
        '[mqtt]\nhost = "x"',
        'mqtt.host = "x" and no topic: ',
        "give state, link, battery, report or alarm",
        '[mqtt]\nhost = "x"\nalarm = "hens/alarm"',
    ),
    "words without a topic": (
        '[mqtt]\nhost = "x"\nlink = "y"\nwords = { A = "shut" }',
        'mqtt.words = { A = "shut" } and no mqtt.state: ',
        "give state, or take words out",
        '[mqtt]\nhost = "x"\nlink = "y"\nstate = "z"\nwords = { A = "shut" }\n'
        '[watch]\nexpects = ["door"]',
    ),
    "a door that reports and is not expected to": (
        '[mqtt]\nhost = "x"\nstate = "hens/door"',
        'mqtt.state = "hens/door" and watch.expects = ["head count"] (the default): ',
        'add "door" to expects',
        '[mqtt]\nhost = "x"\nstate = "hens/door"\n[watch]\nexpects = ["head count", "door"]',
    ),
    "a battery's voltage that nothing comes of": (
        "[battery]\nlow_v = 11.8\n[watch]\nexpects = []",
        "battery.low_v = 11.8 and watch.expects = []: ",
        'add "door" to expects',
        '[battery]\nlow_v = 11.8\n[watch]\nexpects = ["door"]',
    ),
    "a timer's margin that takes more than its tolerance": (
        '[door]\nworks = "timer"\n[timer]\ntolerance_min = 10\nclock_margin_min = 6',
        "timer.clock_margin_min = 6 and timer.tolerance_min = 10: ",
        "allow 12 min or more",
        '[door]\nworks = "timer"\n[timer]\ntolerance_min = 12\nclock_margin_min = 6',
    ),
    "a timer's margin that takes more than the default tolerance": (
        '[door]\nworks = "timer"\n[timer]\nclock_margin_min = 11',
        "timer.clock_margin_min = 11 and timer.tolerance_min = 20 (the default): ",
        "allow 22 min or more, or a smaller margin",
        '[door]\nworks = "timer"\n[timer]\nclock_margin_min = 10',
    ),
    "a clock that may become more wrong than the timer's list allows for": (
        '[door]\nworks = "timer"\n[timer]\ntolerance_min = 20\n[clock]\nmargin_min = 5',
        "timer.clock_margin_min = 0 and clock.margin_min = 5: ",
        "write clock_margin_min = 5 under [timer]",
        f"{TIMER}tolerance_min = 20\nclock_margin_min = 5\n[clock]\nmargin_min = 5",
    ),
    "a second pass of a plain timer": (
        f"[head_count]\nsecond_pass = true\n{TIMER}step_min = 5",
        "head_count.second_pass = true and timer.step_min = 5: ",
        "write second_pass = false, or take [timer] out",
        f"[head_count]\nsecond_pass = false\n{TIMER}step_min = 5",
    ),
    "a second pass of a plain timer on some dates": (
        f"{SPAN}head_count.second_pass = true\n{TIMER}step_min = 5",
        "span 1 head_count.second_pass = true and timer.step_min = 5: ",
        "write second_pass = false, or take [timer] out",
        f"{SPAN}head_count.second_pass = true\n",
    ),
    "temperatures of a compensated clock": (
        '[clock]\noscillator = "compensated"\ncoldest_c = -10',
        'clock.coldest_c = -10 and clock.oscillator = "compensated": ',
        "take coldest_c out",
        '[clock]\noscillator = "compensated"',
    ),
    "a clock that is set less exactly than it may be": (
        "[clock]\nset_error_s = 120",
        "clock.set_error_s = 120 and clock.margin_min = 2: ",
        "set the clock more exactly, or allow more",
        "[clock]\nset_error_s = 119",
    ),
    "a clock that was set on a date to come": (
        "[clock]\nset_on = 2027-01-16",
        "clock.set_on = 2027-01-16 and today is 2027-01-15: ",
        "correct it, or take it out",
        "[clock]\nset_on = 2027-01-15",
    ),
    "a step of a calendar without steps": (
        '[calendar]\nstyle = "days"\nstep_min = 10',
        'calendar.step_min = 10 and calendar.style = "days": ',
        'write style = "steps", or take step_min out',
        '[calendar]\nstyle = "steps"\nstep_min = 10',
    ),
    "a feed that shows strangers what readers of the calendar do not see": (
        '[calendar]\nshow = []\n[feed]\nshow = ["name", "reasons"]',
        'feed.show = ["name", "reasons"] and calendar.show = []: ',
        'take ["reasons"] out of feed.show',
        '[calendar]\nshow = ["reasons"]\n[feed]\nshow = ["name", "reasons"]',
    ),
    "notes that are shown and not written": (
        '[calendar]\nshow = ["notes"]',
        'calendar.show = ["notes"] and notes = "": ',
        'take "notes" out',
        '[calendar]\nshow = ["reasons"]',
    ),
    "notes that a feed shows and nobody wrote": (
        '[feed]\nshow = ["notes"]',
        'feed.show = ["notes"] and notes = "": ',
        'take "notes" out',
        "[feed]\nshow = []",
    ),
    "notes that a card shows and nobody wrote": (
        '[card]\nshow = ["notes"]',
        'card.show = ["notes"] and notes = "": ',
        'take "notes" out',
        '[card]\nshow = ["place"]',
    ),
    "a calendar on a server without an address": (
        '[sync]\ncalendar = "Hens"',
        'sync.calendar = "Hens" and no sync.url: ',
        "add url under [sync], or give --url",
        '[sync]\ncalendar = "Hens"\nurl = "https://cal.example.org/"',
    ),
    "birds without a house": (
        "[flock]\nbirds = 6",
        "flock.birds = 6 and no key of [house] or [run]: ",
        "say how large they are",
        "[flock]\nbirds = 6\n[house]\nfloor_m2 = 1.5",
    ),
    "a house without birds": (
        '[flock]\nsize = "medium"\n[house]\nfloor_m2 = 1.5\nlittered_share = 1',
        "house.floor_m2 = 1.5 and no flock.birds: ",
        "add birds under [flock]",
        "[flock]\nbirds = 6\n[house]\nfloor_m2 = 1.5\nlittered_share = 1",
    ),
    "a joined run of unknown size": (
        "[flock]\nbirds = 6\n[run]\njoined = true",
        "run.joined = true and no run.floor_m2: ",
        "add floor_m2 or floor_ft2 under [run]",
        "[flock]\nbirds = 6\n[run]\njoined = true\nfloor_ft2 = 60",
    ),
    "the size of a nest box that is not there": (
        "[flock]\nbirds = 6\n[house]\nnest_boxes = 0\nnest_box_cm = [30, 31, 32]",
        "house.nest_boxes = 0 and house.nest_box_cm = [30, 31, 32]: ",
        "take nest_box_cm out",
        "[flock]\nbirds = 6\n[house]\nnest_boxes = 2\nnest_box_cm = [30, 31, 32]",
    ),
    "a norm that goes by size, and birds of no size": (
        '[flock]\nbirds = 6\n[house]\nfloor_m2 = 1.5\n[norms]\nfloor_asleep = "floor-by-weight"',
        'norms.floor_asleep = "floor-by-weight" and no flock.size: ',
        "or choose another norm",
        '[flock]\nbirds = 6\nsize = "heavy"\n[house]\nfloor_m2 = 1.5\n[norms]\n'
        'floor_asleep = "floor-by-weight"',
    ),
    "a norm that has no figure for the birds' size": (
        '[flock]\nbirds = 6\nsize = "medium"\n[house]\nfloor_m2 = 1.5\n[norms]\n'
        'floor_asleep = "floor-by-weight"',
        'norms.floor_asleep = "floor-by-weight" and flock.size = "medium": ',
        "give one of bantam, heavy, or choose another norm",
        '[flock]\nbirds = 6\nsize = "medium"\n[house]\nfloor_m2 = 1.5\n[norms]\n'
        'floor_asleep = "floor-9-hens-per-m2"',
    ),
    "dates of a lamp that never burns": (
        "[laying]\nlamp_from = 2027-11-01",
        'laying.lamp_from = 2027-11-01 and laying.lamp = "none": ',
        'write lamp = "morning", or take lamp_from out',
        '[laying]\nlamp = "morning"\nlamp_from = 2027-11-01',
    ),
    "a lamp whose last date is over": (
        '[laying]\nlamp = "evening"\nlamp_until = 2027-01-14',
        'laying.lamp = "evening" and laying.lamp_until = 2027-01-14: ',
        'give a new date, or write lamp = "none"',
        '[laying]\nlamp = "evening"\nlamp_until = 2027-01-15',
    ),
    "a lamp that wakes birds without water": (
        '[flock]\nbirds = 6\n[house]\nwater_inside = false\n[laying]\nlamp = "morning"',
        'laying.lamp = "morning" and house.water_inside = false: ',
        "write water_inside = true",
        '[flock]\nbirds = 6\n[house]\nwater_inside = true\n[laying]\nlamp = "morning"',
    ),
    "a way to widen days, none of which is to be longer": (
        '[day]\nwiden = "close later"',
        'day.widen = "close later" and day.least_open_h = 0: ',
        "ask for one, or take day.widen out",
        # The guard says on which days the door moves beyond it, and so has an effect by itself.
        '[day]\nguard = "civil"',
    ),
    "a fallback before the earliest time": (
        '[open]\nnot_before = "06:30"\nfallback = "05:30"',
        'open.fallback = "05:30" and open.not_before = "06:30": ',
        "move one of them",
        '[open]\nnot_before = "05:30"\nfallback = "05:30"',
    ),
    "a fallback of dark days after the latest time": (
        '[close]\nnot_after = "15:00"\ndark_fallback = "15:30"',
        'close.dark_fallback = "15:30" and close.not_after = "15:00": ',
        "move one of them",
        '[close]\nnot_after = "15:30"\ndark_fallback = "15:30"',
    ),
    "a span's limit beyond the fallback of the file": (
        f'[open]\nfallback = "05:30"\n{SPAN}open.not_before = "07:00"',
        'open.fallback = "05:30" and span 1 open.not_before = "07:00": ',
        "move one of them",
        f'[open]\nfallback = "05:30"\n{SPAN}open.not_after = "07:00"',
    ),
    "steps of a timer that are wider than its tolerance": (
        '[door]\nworks = "timer"\n[timer]\ntolerance_min = 5\nstep_min = 15',
        "timer.step_min = 15 and timer.tolerance_min = 5: ",
        "allow 14 min or more, or take a smaller step",
        '[door]\nworks = "timer"\n[timer]\ntolerance_min = 14\nstep_min = 15',
    ),
    "a way to lengthen nights, none of which is to be longer": (
        '[night]\nlengthen = "open later"',
        'night.lengthen = "open later" and night.least_h = 0: ',
        "ask for one, or take night.lengthen out",
        f'[night]\nlengthen = "open later"\n{SPAN}night.least_h = 9',
    ),
    "a span that widens days of no least length": (
        f'{SPAN}day.widen = "close later"',
        'span 1 day.widen = "close later" and day.least_open_h = 0: ',
        "ask for one, or take day.widen out",
        f'{SPAN}day.widen = "close later"\nday.least_open_h = 9',
    ),
    "limits that leave less than the least open time": (
        '[open]\nnot_before = "08:00"\n[close]\nnot_after = "16:30"\n[day]\nleast_open_h = 9',
        'open.not_before = "08:00", close.not_after = "16:30" and day.least_open_h = 9: ',
        "leave 8 h 30 min, and no day is widened past a limit: move a limit, or ask for less",
        '[open]\nnot_before = "07:30"\n[close]\nnot_after = "16:30"\n[day]\nleast_open_h = 9',
    ),
    "limits that a span leaves less with": (
        f'[open]\nnot_before = "08:00"\n[day]\nleast_open_h = 9\n{SPAN}close.not_after = "16:00"',
        'open.not_before = "08:00", span 1 close.not_after = "16:00" and day.least_open_h = 9: ',
        "leave 8 h 00 min",
        f'[open]\nnot_before = "08:00"\n[day]\nleast_open_h = 9\n{SPAN}close.not_after = "17:00"',
    ),
    "limits that leave less than the least night": (
        '[open]\nnot_after = "07:00"\n[close]\nnot_before = "22:30"\n[night]\nleast_h = 9',
        'open.not_after = "07:00", close.not_before = "22:30" and night.least_h = 9: ',
        "a night of 8 h 30 min, and a least night overrides them",
        '[open]\nnot_after = "07:30"\n[close]\nnot_before = "22:30"\n[night]\nleast_h = 9',
    ),
    "a shut span that also moves the door": (
        f'{SPAN}shut = true\nopen.fixed = "08:00"',
        'span 1 shut = true and span 1 open.fixed = "08:00": ',
        "take one of them out",
        f"{SPAN}shut = true",
    ),
    "a fixed time before the limit": (
        f'[open]\nnot_before = "07:00"\n{SPAN}open.fixed = "06:30"',
        'span 1 open.fixed = "06:30" and open.not_before = "07:00": ',
        'move one of them, or write open.not_before = "none" into the span',
        f'[open]\nnot_before = "07:00"\n{SPAN}open.fixed = "07:00"',
    ),
    "a fixed time after the limit": (
        f'[close]\nnot_after = "21:00"\n{SPAN}close.fixed = "21:30"',
        'span 1 close.fixed = "21:30" and close.not_after = "21:00": ',
        'move one of them, or write close.not_after = "none" into the span',
        f'[close]\nnot_after = "21:00"\n{SPAN}close.fixed = "20:30"',
    ),
    "a fixed time beside an offset from the light": (
        f'{SPAN}close.fixed = "17:00"\nclose.offset_min = 30',
        'span 1 close.fixed = "17:00" and span 1 close.offset_min = 30: ',
        "take close.offset_min out of the span, or the fixed time",
        f'{SPAN}close.fixed = "17:00"\nopen.offset_min = 30',
    ),
    "spans that are all over": (
        "[[span]]\nfrom = 2026-03-01\nuntil = 2027-01-14\n"
        "[[span]]\nfrom = 2025-03-01\nuntil = 2025-03-14\n",
        "span 1 until = 2027-01-14 and today is 2027-01-15: ",
        "give new dates, or take them out",
        "[[span]]\nfrom = 2026-03-01\nuntil = 2027-01-15\n"
        "[[span]]\nfrom = 2025-03-01\nuntil = 2025-03-14\n",
    ),
}


@pytest.mark.parametrize("name", PAIRS)
def test_each_pair_is_told_with_both_settings_and_its_remedy_ends_it(name):
    settings, begins, remedy, mended = PAIRS[name]
    (sentence,) = found(settings)
    assert sentence.startswith(begins)
    assert remedy in sentence
    assert found(mended) == []


@pytest.mark.parametrize(
    ("requirement", "norm", "key", "value"),
    [
        ("floor_asleep", "floor-3-to-4-sq-ft", "house.floor_m2", "1.5"),
        ("floor_awake", "waking-2-sq-ft", "house.floor_m2", "1.5"),
        ("run_floor", "run-4-m2", "run.floor_m2", "8"),
        ("roost", "roost-18-cm", "house.roost_m", "1.8"),
        ("birds_per_nest", "nest-for-7", "house.nest_boxes", "2"),
        ("nest_box", "box-12-12-18-in", "house.nest_box_cm", "[34, 34, 34]"),
    ],
)
def test_a_norm_is_told_where_there_is_nothing_to_hold_against_it(requirement, norm, key, value):
    table, _, name = key.partition(".")
    # So that the house is not empty; what is measured there has nothing to do with the norm.
    rest = "[flock]\nbirds = 6\n[house]\nvents_cm2 = 400\n[run]\ncovered = true\n"
    chosen = f'[norms]\n{requirement} = "{norm}"\n'
    (sentence,) = found(rest + chosen)
    assert sentence.startswith(f'norms.{requirement} = "{norm}" and no {key}: ')
    assert f"{name}" in sentence.rpartition(": add ")[2]
    assert found(rest.replace(f"[{table}]\n", f"[{table}]\n{name} = {value}\n") + chosen) == []
    # That a norm holds anyway is no choice.
    assert found(f"{rest}[norms]\nroost = 'roost-15-cm'\n") == []


@pytest.mark.parametrize("norm", ['feed = "feed-100-to-130-g"', 'water = "water-6-l-per-12"'])
def test_how_much_to_provide_is_said_without_what_is_inside(norm):
    chosen = f"[house]\nvents_cm2 = 400\n[norms]\n{norm}\n"
    assert found(f"[flock]\nbirds = 6\n{chosen}") == []
    (sentence,) = found(chosen)
    assert "and no flock.birds: " in sentence


@pytest.mark.parametrize(
    "settings",
    [
        # Judged without a number of birds.
        "[house]\nnest_box_cm = [34, 34, 34]\nlittered_share = 0\nvents_cm2 = 400",
        "[run]\ncovered = true",
        # What another span says of the same dates may settle it.
        f'{SPAN}day.widen = "open earlier"\n{SPAN}day.least_open_h = 9',
        f'[open]\nnot_before = "09:00"\n{SPAN}open.fixed = "08:00"\n{SPAN}open.not_before = "none"',
    ],
)
def test_what_has_an_effect_is_no_contradiction(settings):
    assert found(settings) == []


def test_a_lamp_that_is_over_wakes_nobody():
    over = (
        "[flock]\nbirds = 6\n[house]\nfeed_inside = false\n"
        '[laying]\nlamp = "both"\nlamp_until = 2026-01-01'
    )
    (sentence,) = found(over)
    assert "no lamp burns any more" in sentence


def test_several_contradictions_are_all_told():
    settings = "\n".join(
        PAIRS[name][0]
        for name in (
            "a step of a calendar without steps",
            "a clock that was set on a date to come",
            "a way to widen days, none of which is to be longer",
            "birds without a house",
            "a shut span that also moves the door",
        )
    )
    assert len(found(settings)) == 5


def test_notes_that_are_written_may_be_shown():
    assert found('[calendar]\nshow = ["notes"]', head='notes = "Two limp."') == []


def test_a_feed_alone_does_not_contradict_a_calendar_of_which_nothing_is_said():
    assert found('[feed]\nshow = ["place", "reasons"]') == []


def test_a_feed_may_show_less_than_the_calendar():
    assert found('[calendar]\nshow = ["place", "reasons"]\n[feed]\nshow = []') == []


def test_a_limit_that_a_span_takes_away_is_no_limit_for_its_fixed_time():
    limit = '[open]\nnot_before = "07:00"\n'
    assert len(found(f'{limit}{SPAN}open.fixed = "06:00"')) == 1
    assert found(f'{limit}{SPAN}open.fixed = "06:00"\nopen.not_before = "none"') == []


def test_a_limit_that_is_taken_away_is_named_as_it_was_written():
    (sentence,) = found(f'{SPAN}shut = true\nclose.not_after = "none"')
    assert sentence.startswith('span 1 shut = true and span 1 close.not_after = "none": ')


SWITCHED_ON = [
    line.removeprefix("# ").partition("  #")[0]
    for line in starter_text(
        Start(ID, "x", 52.09, 5.12, "", "Europe/Amsterdam", None, None, 2028), everything=True
    ).splitlines()
    if re.match(r"# [a-z_0-9.]+ = |# \[\[|\[|[a-z_0-9]+ = ", line)
]


@given(st.lists(st.booleans(), min_size=len(SWITCHED_ON), max_size=len(SWITCHED_ON)))
def test_whatever_is_switched_on_all_is_told_in_whole_sentences(kept):
    needed = re.compile(r"\[|(id|name|latitude|longitude|zone|from|until|instant|what) = ")
    barred = re.compile(
        r'city|file = "skyline|(kind|date|time) = |(timer\.)?changes|littered_(m2|ft2)|'
        r"\w+_(ft2?|in2?|f) ="
        r"|horizontal_kwh_m2_day|light_file|capacity_ah|cells ="
    )
    lines = [
        line
        for line, keep in zip(SWITCHED_ON, kept, strict=True)
        if needed.match(line) or (keep and not barred.match(line))
    ]
    site = read_site("\n".join(lines), "site.toml")
    sentences = list(contradictions(site, TODAY))
    for sentence in sentences:
        assert re.fullmatch(r"[a-z].+( = .+)? (and|,) .+: .+", sentence)
        assert sentence.isprintable()
        assert "None" not in sentence
    assert len(set(sentences)) == len(sentences)
    for label, text in describe_site(site, "here", []):
        assert label
        assert text
        assert "None" not in text


@pytest.mark.parametrize("spot", [UTRECHT, SINGAPORE, TAMPERE, LORD_HOWE])
def test_a_closing_after_midnight_is_late_and_not_early(spot):
    limit = '[close]\nnot_after = "23:30"\n'
    (sentence,) = found(f'{limit}{SPAN}close.fixed = "00:15"', spot=spot)
    assert sentence.startswith('span 1 close.fixed = "00:15" and close.not_after = "23:30": ')
    assert found(f'[close]\nnot_after = "00:30"\n{SPAN}close.fixed = "00:15"', spot=spot) == []


def test_what_a_terminal_would_obey_is_not_told():
    (sentence,) = found('[sync]\ncalendar = "a\\u200db"')
    assert sentence.startswith('sync.calendar = "a\N{REPLACEMENT CHARACTER}b" and no sync.url')


def test_an_address_is_never_among_what_is_told():
    address = 'url = "https://cal.example.org/hidden/"'
    for settings, *_ in PAIRS.values():
        text = settings if "[sync]" in settings else f"{settings}\n[sync]\n"
        assert "hidden" not in " ".join(found(text.replace("[sync]\n", f"[sync]\n{address}\n")))


# --- Where nothing contradicts -----------------------------------------------------------------


@pytest.mark.parametrize("path", sorted((ROOT / "schedules").glob("*.toml")), ids=lambda p: p.stem)
def test_no_demo_site_contradicts_itself(path):
    assert list(contradictions(load_site(path), TODAY)) == []


PLACES = [(52.09, 5.12), (-33.87, 151.21), (1.29, 103.85), (69.6, 18.9), (-54.8, -68.3)]


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("fallbacks", [(None, None), (WallTime(330), WallTime(1350))])
@pytest.mark.parametrize("everything", [False, True])
def test_no_new_file_contradicts_itself_nor_one_with_every_default_switched_on(
    place, fallbacks, everything
):
    start = Start(ID, "House", *place, "", zone_at(*place), *fallbacks, TODAY.year + 1)
    text = starter_text(start, everything=everything)
    assert list(contradictions(read_site(text, "site.toml"), TODAY)) == []
    plain = _without_examples(text.partition("# [[")[0])
    on = re.sub(r"^# ([a-z_0-9]+ = .*)$", r"\1", plain, flags=re.M)
    site = read_site(on, "site.toml")
    assert site.settings.timer is not None
    assert (site.settings.norms is not None) == everything
    assert list(contradictions(read_site(on, "site.toml"), TODAY)) == []


def _without_examples(text):
    """Return a text without the settings that have no default, which say so beside or below."""
    return re.sub(r"^# [a-z_0-9]+ = .*\n(?:#      .*\n)*", _if_default, text, flags=re.M)


def _if_default(setting):
    return "" if "An example." in " ".join(setting[0].replace("#", " ").split()) else setting[0]


def test_examples_that_are_switched_on_contradict_only_where_something_is_missing():
    start = Start(ID, "House", 52.09, 5.12, "", "Europe/Amsterdam", None, None, 2028)
    text = starter_text(start, everything=True).partition("# [[")[0]
    text = text.replace('works = "controller"', 'works = "timer"')
    for line in (
        "timer.changes",
        "floor_ft2",
        "littered_m2",
        "littered_ft2",
        *("coldest_f", "warmest_f", "wall_ft", "roost_ft", "nest_box_in", "vents_in2"),
        "city",
        "joined",
        "within_min",
        *("horizontal_kwh_m2_day", "light_file", "capacity_ah", "cells"),
    ):
        text = re.sub(rf"^# {line.rpartition('.')[2]} = .*$", "", text, flags=re.M)
    text = text.replace('# file = "skyline.csv"', "")
    text = re.sub(r"^# ([a-z_0-9]+ = .*)$", r"\1", text, flags=re.M)
    site = read_site(text, "site.toml")
    assert [name for name in TABLES if getattr(site.settings, name) is None] == []
    told = list(contradictions(site, dt.date(2028, 6, 1)))
    # No lamp burns by default, so its dates have no effect.
    assert [sentence.partition(" = ")[0] for sentence in told] == [
        "laying.lamp_from",
        "laying.lamp_until",
        "mqtt.state",
        "battery.low_v",
    ]
