"""``check``: what it says of settings that do not go together, beside what was understood."""

import re

import pytest

HOUSE = (
    'id = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"\nname = "Willow End"\n[place]\nlatitude = 52.09\n'
    'longitude = 5.12\nzone = "Europe/Amsterdam"\n'
)
HEADING = "What does not go together:"


@pytest.fixture(autouse=True)
def _today(set_clock):
    set_clock("2027-01-15T23:30:00")


def test_what_does_not_go_together_stands_under_a_heading_of_its_own(daylatch, tmp_path):
    (tmp_path / "site.toml").write_text(
        HOUSE + "[timer]\ntolerance_min = 10\nclock_margin_min = 6\n"
        "[[span]]\nfrom = 2026-03-01\nuntil = 2026-03-14\nshut = true\n"
    )
    ran = daylatch("check")
    assert (ran.status, ran.err) == (0, "")
    understood, _, rest = ran.out.partition(f"\n{HEADING}\n")
    told, _, plan = rest.partition("\n\n")
    assert "Timer       At most 10 min late" in understood
    assert told == (
        "- span 1 until = 2026-03-14 and today is 2027-01-16: every span is over: give\n"
        "  new dates, or take them out\n"
        '- timer.tolerance_min = 10 and door.works = "controller": these are the plan\'s\n'
        '  times; the timer\'s come with works = "timer" under [door]\n'
        "- timer.clock_margin_min = 6 and timer.tolerance_min = 10: the margin takes 2 x\n"
        "  6 = 12 min of the tolerance: allow 12 min or more, or a smaller margin"
    )
    assert plan.startswith("A plan from 2027-01-16 to 2028-01-15 can be made:\n")


def test_there_is_no_heading_where_all_goes_together(daylatch, alder_row):
    ran = daylatch("check")
    assert ran.status == 0
    assert HEADING not in ran.out


def test_it_is_told_even_where_no_plan_comes_out(daylatch, tmp_path):
    (tmp_path / "site.toml").write_text(
        HOUSE.replace("52.09", "69.2").replace("Amsterdam", "Oslo") + "[sync]\ndays_ahead = 30\n"
    )
    ran = daylatch("check")
    assert ran.status == 4
    assert f"{HEADING}\n- sync.days_ahead = 30 and no sync.url: " in ran.out


@pytest.mark.parametrize("everything", [[], ["--all"]])
def test_a_new_file_is_understood_without_a_contradiction(daylatch, tmp_path, everything):
    place = ["--latitude=-33.87", "--longitude", "151.21"]
    assert daylatch("new", "site.toml", "--name", "x", *place, *everything).status == 0
    ran = daylatch("check")
    assert (ran.status, ran.err) == (0, "")
    assert HEADING not in ran.out
    told = r"Head count  15 min after closing\nWriting .*\n\nA plan from"
    assert re.search(told, ran.out, re.S)


def test_a_place_at_sea_is_doubted_though_the_file_names_a_zone(daylatch, alder_row):
    """Dunedin with the sign of its longitude lost lies not far from its zone."""
    text = alder_row.read_text().replace('"Europe/London"', '"Pacific/Auckland"')
    text = text.replace("latitude = 51.72", "latitude = -45.87")
    for longitude, words in (("170.5", ""), ("-170.5", "lies at sea or in no country: check the")):
        alder_row.write_text(text.replace("longitude = 0.41", f"longitude = {longitude}"))
        ran = daylatch("check")
        assert ran.status == 0
        assert words in ran.err
        assert ("at sea" in ran.err) is bool(words)
