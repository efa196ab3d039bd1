"""The diary's own layout: every entry comes back as it was, and bad rows say what is wrong."""

from __future__ import annotations

import csv
import io

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daylatch.diary.entries import SURE_MIN, WHATS, ValueKind, make_entry
from daylatch.diary.log.layout import COLUMNS, write_log
from daylatch.diary.log.read import read_log
from daylatch.diary.log.rows import LogError
from sites import UTRECHT, site

HERE = site(UTRECHT)
HEADER = ",".join(COLUMNS)


def read(text):
    return read_log(text.encode(), "log.csv", None, HERE)


def reasons(row):
    (reject,) = read(f"{HEADER}\n{row}\n").rejects
    return reject.reasons


def refusal(text):
    with pytest.raises(LogError) as caught:
        read(text)
    assert caught.value.exit_status == 2
    return str(caught.value)


texts = st.text(
    st.characters(exclude_categories=["Cc", "Cf", "Cs", "Zl", "Zp"])
    | st.sampled_from("=+-@'\",; "),
    max_size=12,
)
VALUES = {
    ValueKind.NOTHING: st.just(""),
    ValueKind.COUNT: st.integers(1, 100_000).map(str),
    ValueKind.READING: st.times().map("{:%H:%M}".format),
    ValueKind.VOLTS: st.integers(0, 1000).map("{0:d}".format).map(lambda v: f"{int(v) / 10:g}"),
    ValueKind.RECORD: texts.filter(bool),
}


@st.composite
def entries(draw):
    what = draw(st.sampled_from(sorted(WHATS)))
    note = draw(texts)
    return make_entry(
        np.datetime64(draw(st.integers(315_532_800, 2_145_916_799)), "s"),
        what,
        draw(VALUES[WHATS[what].value]),
        stamped_by=draw(st.sampled_from(sorted(SURE_MIN))),
        within=draw(st.sampled_from(["", "0", "0.5", "719.123456789", "0.000000001"])),
        by=draw(texts),
        note=note if what != "note" or note.strip() else "seen",
    )


@given(st.lists(entries(), min_size=1, max_size=5))
def test_entries_come_back_as_they_were_written(written):
    log = read_log(write_log(written), "log.csv", None, HERE)
    assert log.entries == tuple(written)
    assert log.rejects == log.notes == ()
    assert log.lines == tuple(range(2, len(written) + 2))


@given(st.lists(entries(), min_size=1, max_size=5))
def test_the_columns_are_those_that_programs_rely_on(written):
    content = write_log(written)
    assert content.startswith(b"instant,what,value,stamped_by,within_min,by,note\r\n")
    rows = list(csv.reader(io.StringIO(content.decode(), newline="")))
    assert {len(row) for row in rows} == {7}
    assert [row[0] for row in rows[1:]] == [f"{one.instant_utc}Z" for one in written]
    for row in rows[1:]:
        assert not any(cell.lstrip().startswith(("=", "+", "-", "@")) for cell in row)


def test_instants_are_read_with_any_distance_from_utc():
    log = read(
        "instant,what\n2027-03-04T20:14:00+01:00,opened\n2027-03-04t19:14:00.9z,shut\n"
        "2027-03-04 24:00:00Z,seen_shut\n"
    )
    assert [str(one.instant_utc) for one in log.entries] == [
        "2027-03-04T19:14:00",
        "2027-03-04T19:14:00",
        "2027-03-05T00:00:00",
    ]
    assert {one.stamped_by for one in log.entries} == {"phone"}
    assert {one.within_min for one in log.entries} == {1.0}


def test_equal_rows_are_as_many_entries():
    row = "2027-03-04T20:14:00Z,lost,1,phone,1,keeper,fox\n"
    assert len(read(f"{HEADER}\n{row}{row}").entries) == 2


def test_a_spreadsheet_that_saves_with_semicolons_is_read():
    log = read("instant;what;value\r\n2027-03-04T20:14:00Z;lost;1\r\n")
    assert [one.count for one in log.entries] == [1]


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("2027-03-04T20:14:00,opened,,,,,", "instant is"),
        ("2027-03-04,opened,,,,,", "with its distance from UTC"),
        ("2027-02-30T20:14:00Z,opened,,,,,", "2027-03-04T20:14:00Z"),
        ("1979-12-31T23:59:59Z,opened,,,,,", "1979-12-31 is no date of a log"),
        ("2038-01-01T00:00:00Z,opened,,,,,", "write one from 1980 to 2037"),
        ("1803000000,opened,,,,,", 'instant is "1803000000"'),
        ("2027-03-04T20:14:00Z,open,,,,,", 'what is "open"'),
        ("2027-03-04T20:14:00Z,opened,3,,,,", "has no value"),
        ("2027-03-04T20:14:00Z,lost,,,,,", "says nothing without a value"),
        ("2027-03-04T20:14:00Z,opened,,cat,,,", 'stamped_by is "cat"'),
        ("2027-03-04T20:14:00Z,opened,,,-1,,", 'within_min is "-1"'),
        ("2027-03-04T20:14:00Z,opened,,,,,a\x07b", "U+0007"),
        ("2027-03-04T20:14:00Z,opened,,,,,a\0b", "U+0000"),
        (f"2027-03-04T20:14:00Z,lost,{'9' * 5000},,,,", "value has 5000 characters"),
        ("2027-03-04T20:14:00Z,opened", "has 2 cells and the header 7: it may have been cut off"),
        ("2027-03-04T20:14:00Z,opened,,,,,a,b", "a cell may hold a delimiter"),
        ('2027-03-04T20:14:00Z,"opened\n2027-03-04T20:15:00Z,shut', "quotation mark may not"),
    ],
)
def test_a_row_that_makes_no_entry_is_rejected_with_the_reason(row, reason):
    (told,) = reasons(row)
    assert reason in told
    assert len(told) < 400


def test_what_is_wrong_beside_the_instant_is_told_too():
    instant, what = reasons("yesterday,open,,,,,")
    assert instant.startswith('instant is "yesterday"')
    assert what.startswith('what is "open"')


def test_a_log_without_the_columns_says_which_it_should_have():
    said = refusal("When,Event\n2027-03-04 20:14,OPEN\n")
    assert said.startswith('log.csv, line 1: there is no column "instant" among "When" and "Event"')
    assert "instant,what,value,stamped_by,within_min,by,note" in said
    assert "[[diary.log]]" in said


@pytest.mark.parametrize(
    ("header", "said"),
    [
        ("instant,what,noet", 'the column "noet" is none of the diary\'s'),
        ("instant,what,what", 'the column "what" stands twice'),
    ],
)
def test_a_column_that_is_not_the_diarys_is_refused(header, said):
    assert said in refusal(f"{header}\n2027-03-04T20:14:00Z,opened,x\n")
