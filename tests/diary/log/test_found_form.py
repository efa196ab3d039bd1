"""The form of dates and times is found from all rows, and refused where it could be another."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pandas as pd
import pytest
from dateutil import parser
from hypothesis import assume, given
from hypothesis import strategies as st

from daylatch.diary.log.found_form import Stamp, find_moments
from daylatch.diary.log.rows import LogError
from daylatch.diary.log.written_moments import read_by, read_exact


def find(*texts):
    return find_moments([Stamp(line, text) for line, text in enumerate(texts, 2)], "log.csv")


def walls(*texts):
    return [None if one is None else str(one.wall) for one in find(*texts).moments]


def refusal(*texts):
    with pytest.raises(LogError) as caught:
        find(*texts)
    return str(caught.value)


# --- What is found -------------------------------------------------------------------------------

FORMS = {
    "2027-03-04 20:14": "2027-03-04 20:14:00",
    "2027-03-04T20:14:05": "2027-03-04 20:14:05",
    "2027-03-04 20:14:05.987": "2027-03-04 20:14:05",
    "2027-03-04T20:14:05,5": "2027-03-04 20:14:05",
    "2027/3/4 20:14": "2027-03-04 20:14:00",
    "2027.03.04 20:14": "2027-03-04 20:14:00",
    "2027.03.04. 20:14": "2027-03-04 20:14:00",
    "20270304T201405": "2027-03-04 20:14:05",
    "20270304 2014": "2027-03-04 20:14:00",
    "202703042014": "2027-03-04 20:14:00",
    "20270304201405": "2027-03-04 20:14:05",
    "31.10.2027 20:14": "2027-10-31 20:14:00",
    "31.10.2027 20.14": "2027-10-31 20:14:00",
    "31.10.2027, 20:14:05": "2027-10-31 20:14:05",
    "31. 10. 2027 8:14": "2027-10-31 08:14:00",
    "31/10/2027 20h14": "2027-10-31 20:14:00",
    "31-10-2027 20:14": "2027-10-31 20:14:00",
    "10/31/2027 8:14 PM": "2027-10-31 20:14:00",
    "10/31/2027, 8:14:05 p.m.": "2027-10-31 20:14:05",
    "10/31/2027 12:14AM": "2027-10-31 00:14:00",
    "10/31/2027 12:14 pm": "2027-10-31 12:14:00",
    "Mar 4, 2027 8:14 PM": "2027-03-04 20:14:00",
    "March 4, 2027, 20:14": "2027-03-04 20:14:00",
    "4 Mar 2027 20:14": "2027-03-04 20:14:00",
    "4. March 2027 20:14": "2027-03-04 20:14:00",
    "04-MAR-2027 20:14:05": "2027-03-04 20:14:05",
    "Thu, 4 Mar 2027 20:14:05": "2027-03-04 20:14:05",
    "Thursday 4 March 2027 20:14": "2027-03-04 20:14:00",
    "2027-03-04 24:00": "2027-03-05 00:00:00",
    "31.12.2027 24:00:00": "2028-01-01 00:00:00",
    "2027-03-04T20:14:05+01:00": "2027-03-04 19:14:05",
    "2027-03-04T20:14:05Z": "2027-03-04 20:14:05",
    "2027-03-04 20:14 UTC": "2027-03-04 20:14:00",
    "20270304T201405Z": "2027-03-04 20:14:05",
    "1804191245": "2027-03-04 20:14:05",
    "1804191245.5": "2027-03-04 20:14:05",
    "1804191245987": "2027-03-04 20:14:05",
}


@pytest.mark.parametrize(("text", "wall"), FORMS.items())
def test_a_form_that_says_all_is_found(text, wall):
    assert walls(text) == [wall]


def test_a_later_row_says_which_is_the_day():
    assert walls("03/04/2027 7:00", "03/14/2027 7:00")[0] == "2027-03-04 07:00:00"
    assert walls("03/04/2027 7:00", "14/03/2027 7:00")[0] == "2027-04-03 07:00:00"


def test_the_same_date_either_way_is_no_riddle():
    assert walls("04/04/2027 20:14") == ["2027-04-04 20:14:00"]


def test_rows_with_and_without_seconds_may_mix():
    assert walls("2027-03-04 20:14:05", "2027-03-04 20:15", "1804191300") == [
        "2027-03-04 20:14:05",
        "2027-03-04 20:15:00",
        "2027-03-04 20:15:00",
    ]


@pytest.mark.parametrize(
    "text",
    [
        *("2027-02-30 10:00", "2027-13-01 10:00", "2027-03-04 20:60", "2027-03-04 24:01", "8:14"),
        *("2027-03-04", "2027111 08:00", "32.01.2027 08:00", "3/14/2027 13:00 PM", "yesterday"),
        *("2027-03-04 0:14 AM", "99999999999", "2027-03-04 20:14:05:06", "\u0663/4/2027 10:00"),
    ],
)
def test_what_is_no_date_and_time_is_none_beside_good_rows(text):
    assert walls(text, "2027-03-04 08:14", "2027-03-05 08:14")[0] is None


# --- What is refused -----------------------------------------------------------------------------


def test_a_date_that_fits_two_ways_is_refused_with_both_and_what_to_write():
    assert refusal("04/04/2027 7:00", "03/04/2027 20:14:05") == (
        'log.csv, line 3: "03/04/2027 20:14:05" may be 3 April 2027 or 4 March 2027, and no row '
        "says which: write under its [[diary.log]] "
        'format = "%d/%m/%Y %H:%M:%S" or format = "%m/%d/%Y %H:%M:%S"'
    )


@pytest.mark.parametrize(
    "text",
    ["03/04/2027, 8:14:05 PM", "03.04.2027 20.14", "3-4-2027T20:14:05.5", "03/04/2027 8:14pm"],
)
def test_the_formats_that_are_offered_read_the_row_each_its_way(text):
    said = refusal(text)
    forms = [part.partition('"')[0] for part in said.split('format = "')[1:]]
    read = {read_by(form, text).wall for form in forms}
    assert {(one.month, one.day) for one in read} == {(3, 4), (4, 3)}
    assert {one.hour for one in read} == {20}


def test_dates_in_two_ways_are_refused_with_both_lines():
    said = refusal("14/03/2027 7:00", "03/14/2027 7:00")
    assert said.startswith('log.csv, line 3: the date in "03/14/2027 7:00" is not written as')
    assert 'line 2 "14/03/2027 7:00"' in said


@pytest.mark.parametrize("bare", ["3/14/2027 20:14", "3/14/2027 8:14"])
def test_hours_of_12_and_of_24_are_not_mixed(bare):
    assert refusal("3/14/2027 8:14 PM", bare) == (
        f'log.csv, line 3: "{bare}" has no AM or PM, and line 2 has "3/14/2027 8:14 PM": write all '
        "times with AM or PM, or none"
    )


def test_a_log_of_mornings_only_is_worth_a_word():
    early = [f"2027-03-{day:02} 08:14" for day in range(1, 9)]
    assert find(*early).may_be_of_12_hours
    assert not find(*early[1:]).may_be_of_12_hours
    assert not find(*early, "2027-03-09 13:00").may_be_of_12_hours
    assert not find(*early, "2027-03-09 00:10").may_be_of_12_hours
    assert not find(*(f"{one} AM" for one in early)).may_be_of_12_hours


def test_a_year_of_two_digits_is_refused_with_the_formats_that_it_may_have():
    said = refusal("03/04/27 20:14")
    assert '"03/04/27 20:14" is no date and time in a form that is known, as in 1 of 1 rows' in said
    for form in ("%d/%m/%y %H:%M", "%m/%d/%y %H:%M", "%y/%m/%d %H:%M"):
        assert f'format = "{form}"' in said
    assert refusal("3/14/27, 8:14:05 PM").endswith(
        'write under its [[diary.log]] format = "%m/%d/%y, %I:%M:%S %p"'
    )


def test_rows_that_fit_no_form_are_refused_if_they_are_most():
    good = "2027-03-04 20:14"
    assert walls("soon", good) == [None, "2027-03-04 20:14:00"]
    assert "as in 2 of 3 rows" in refusal("soon", good, "later")


# --- Readers that are not ours -------------------------------------------------------------------

moments = st.datetimes(
    dt.datetime.fromisoformat("1980-01-01"), dt.datetime.fromisoformat("2037-12-30")
)
UNAMBIGUOUS = ["%Y-%m-%d %H:%M:%S", "%d %b %Y %H:%M", "%B %d, %Y %I:%M %p", "%a, %d %b %Y %H:%M:%S"]


@given(moments, st.sampled_from([*UNAMBIGUOUS, "%Y%m%dT%H%M%S"]))
def test_what_is_found_is_what_other_libraries_read(moment, form):
    text = moment.strftime(form)
    (found,) = find(text).moments
    assert found.wall == parser.parse(text) == pd.Timestamp(text).to_pydatetime()


@given(st.lists(moments, min_size=2, max_size=5), st.booleans())
def test_which_is_the_day_is_found_as_when_it_is_told(some, day_first):
    assume(any(one.day > 12 for one in some))
    texts = [one.strftime("%d/%m/%Y %H:%M" if day_first else "%m/%d/%Y %H:%M") for one in some]
    found = [one.wall for one in find(*texts).moments]
    assert found == [parser.parse(text, dayfirst=day_first) for text in texts]


@given(moments, st.sampled_from(["Europe/Oslo", "America/St_Johns", "Pacific/Chatham", "UTC"]))
def test_an_exact_moment_is_the_one_that_other_libraries_read(moment, zone):
    text = moment.replace(microsecond=0, tzinfo=ZoneInfo(zone)).isoformat()
    assert read_exact(text).wall == pd.Timestamp(text).tz_convert("UTC").tz_localize(None)


@given(
    st.text(max_size=30) | st.from_regex(r"\d{1,4}[-/. ]\d{1,2}[-/. ]\d{1,4}[T ,]+\d+:\d+( PM)?")
)
def test_no_text_is_read_without_being_understood(text):
    try:
        moments = find(text).moments
    except LogError:
        return
    assert moments[0] is None or moments[0].wall.year < 10_000
