"""Reading a log of any layout: what is an entry, what is rejected and what refuses the file."""

from __future__ import annotations

import csv
import datetime as dt
import io
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daylatch.diary.log.layout import COLUMNS
from daylatch.diary.log.read import Reject, read_log, rejects_file
from daylatch.diary.log.rows import LARGEST_BYTES, LogError
from sites import UTRECHT, Spot, site

MAPPING = (
    '[[diary.log]]\nname = "shed"\ninstant = "When"\nwhat = "Event"\n'
    'words = { OPEN = "opened", "Door closed" = "shut", beat = "" }\n'
)
PLAIN = '[[diary.log]]\nname = "shed"\ninstant = "When"\nwhat = "Event"\n'


def read(content, mapping=MAPPING, settings=""):
    here = site(UTRECHT, settings + mapping)
    content = content if isinstance(content, bytes) else content.encode()
    return read_log(content, "log.csv", here.settings.diary.log[0], here)


def refusal(content, mapping=MAPPING):
    with pytest.raises(LogError) as caught:
        read(content, mapping)
    assert len(caught.value.lines) == 1
    assert len(str(caught.value)) < 1000
    return str(caught.value)


def reasons(row, mapping=MAPPING, header="When,Event"):
    (reject,) = read(
        f"{header}\n{row}\n2027-03-05 07:00{',' * header.count(',')}\n", mapping
    ).rejects[:1]
    return reject.reasons


def kinds(log):
    return [entry.what for entry in log.entries]


# --- Rows become entries -------------------------------------------------------------------------


def test_words_are_kinds_without_regard_to_case_and_blanks_and_some_are_passed_over():
    log = read(
        "When,Event\n2027-03-04 07:00, open \n2027-03-04 07:30,BEAT\n2027-03-04 20:14,door CLOSED\n"
    )
    assert [(str(one.instant_utc), one.what) for one in log.entries] == [
        ("2027-03-04T06:00:00", "opened"),
        ("2027-03-04T19:14:00", "shut"),
    ]
    assert log.lines == (2, 4)
    assert log.rejects == log.notes == ()
    assert {(one.by, one.stamped_by, one.within_min) for one in log.entries} == {
        ("shed", "server", 1.0)
    }


def test_a_row_that_is_passed_over_may_be_without_a_time():
    log = read("When,Event\n2027-03-04 07:00,OPEN\n,beat\nnever,beat\n2027-03-04 08:00,OPEN\n")
    assert kinds(log) == ["opened", "opened"]
    assert log.rejects == ()


def test_without_words_a_column_names_the_kinds_themselves():
    log = read("When,Event,N\n2027-03-04 20:14,Still_Out,2\n", f'{PLAIN}value = "N"\n')
    assert [(one.what, one.count) for one in log.entries] == [("still_out", 2)]


def test_two_columns_hold_date_and_time_and_all_rows_may_be_of_one_kind():
    mapping = '[[diary.log]]\nname = "x"\ndate = "D"\ntime = "T"\nkind = "last_in"\nnote = "N"\n'
    log = read("T;N;D\n20:14;rain;14.03.2027\n", mapping)
    assert [(str(one.instant_utc), one.what, one.note) for one in log.entries] == [
        ("2027-03-14T19:14:00", "last_in", "rain")
    ]


def test_what_a_layout_says_of_the_clock_and_how_sure_it_is_holds():
    content = "When,Event\n2027-07-04 07:00,OPEN\n"
    log = read(content, f'{MAPPING}clock = "door"\nwithin_min = 2.5\n')
    assert [(one.stamped_by, one.within_min) for one in log.entries] == [("door", 2.5)]
    log = read(content, f'{MAPPING}clock = "Asia/Tokyo"\n')
    assert [str(one.instant_utc) for one in log.entries] == ["2027-07-03T22:00:00"]


def test_only_kinds_with_a_value_take_it_and_volts_may_have_a_comma():
    mapping = f'{PLAIN}value = "V"\n'
    log = read(
        "When;Event;V\n2027-03-04 20:14;shut;12,4\n2027-03-04 20:15;battery_v;12,4\n", mapping
    )
    assert [(one.what, one.value) for one in log.entries] == [("shut", ""), ("battery_v", "12.4")]


def test_equal_rows_are_as_many_entries():
    assert len(read("When,Event\n" + "2027-03-04 20:14,OPEN\n" * 2).entries) == 2


def test_a_text_that_a_spreadsheet_would_obey_is_a_text():
    log = read('When,Event,N\n2027-03-04 20:14,OPEN,"=1+1"\n', f'{MAPPING}note = "N"\n')
    assert [one.note for one in log.entries] == ["=1+1"]


def test_a_format_that_is_told_reads_what_would_be_two_ways():
    log = read("When,Event\n03/04/27 8:14 PM,OPEN\n", f'{MAPPING}format = "%d/%m/%y %I:%M %p"\n')
    assert [str(one.instant_utc) for one in log.entries] == ["2027-04-03T18:14:00"]


def test_with_a_format_24_00_and_exact_moments_are_read_too():
    log = read(
        "When,Event\n3.4.2027 24:00,OPEN\n2027-04-04T07:00:00Z,OPEN\n",
        f'{MAPPING}format = "%d.%m.%Y %H:%M"\n',
    )
    assert [str(one.instant_utc) for one in log.entries] == [
        "2027-04-03T22:00:00",
        "2027-04-04T07:00:00",
    ]


def test_a_format_that_most_rows_do_not_have_is_refused():
    mapping = f'{MAPPING}format = "%d.%m.%Y %H:%M"\n'
    good = "3.4.2027 20:14,OPEN\n"
    assert refusal(f"When,Event\n{good}3/4/2027 1:00,OPEN\n2027,OPEN\n", mapping) == (
        'log.csv, line 3: "3/4/2027 1:00" is not written as format = "%d.%m.%Y %H:%M" has it, as '
        "in 2 of 3 rows: correct the format"
    )
    (reject,) = read(f"When,Event\n{good}3/4/2027 1:00,OPEN\n", mapping).rejects
    assert reject.reasons == (
        '"3/4/2027 1:00" is no date and time as "%d.%m.%Y %H:%M": correct it',
    )


def test_hours_that_may_be_of_12_are_worth_a_warning():
    rows = "".join(f"2027-03-{day:02} 08:14,OPEN\n" for day in range(1, 9))
    assert read(f"When,Event\n{rows}").notes == ()
    (note,) = read(f"When,Event\n{rows.replace('OPEN', 'Door closed')}").notes
    assert note.startswith("no time is after 12:59: ")


# --- Rows that are rejected ----------------------------------------------------------------------


def test_every_reason_is_told_with_the_row_as_it_was():
    log = read('When,Event,N\n2027-03-04 20:14,OPEN,x\nsoon,"AJAR",y\n', f'{MAPPING}note = "N"\n')
    assert log.rejects == (
        Reject(
            3,
            'soon,"AJAR",y',
            (
                '"AJAR" is not among the words of [[diary.log]] "shed": add it with a kind of '
                'entry, or with "" to pass over it',
                '"soon" is no date and time in a form that is known: correct it',
            ),
        ),
    )
    assert len(log.entries) == 1


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        (",OPEN", "there is no date, or no time: write both"),
        ("2038-01-01 07:00,OPEN", "2038-01-01 is no date of a log: write one from 1980 to 2037"),
        ("2027-03-04 07:00,OP\0EN", "Event: take out the invisible character U+0000"),
        ("2027-03-04\u200b 07:00,OPEN", "When: take out the invisible character U+200B"),
        ("2027-03-04 07:00,OP\u202eEN", "Event: take out the invisible character U+202E"),
        ("2027-03-04 07:00", "the row has 1 cells and the header 2: it may have been cut off"),
        ("2027-03-04 07:00,OPEN,x", "the row has 3 cells and the header 2: a cell may hold a"),
        ('2027-03-04 07:00,"OPEN', "Event: a quotation mark may not be closed"),
        ('"2027-03-04 07:00,OPEN', "cells and the header 2: a quotation mark may not be closed"),
    ],
)
def test_a_row_that_makes_no_entry_is_rejected(row, reason):
    (told,) = reasons(row)
    assert reason in told


def test_what_is_wrong_with_a_value_and_a_note_is_told():
    mapping = f'{PLAIN}value = "V"\nnote = "N"\n'
    head = "When,Event,V,N"
    assert "write how many birds" in reasons("2027-03-04 07:00,lost,many,x", mapping, head)[0]
    assert "says nothing without" in reasons("2027-03-04 07:00,lost,,x", mapping, head)[0]
    long = reasons(f"2027-03-04 07:00,lost,{'9' * 5000},x", mapping, head)[0]
    assert long == "value has 5000 characters: write 100 at most"
    assert "note has 2001" in reasons(f"2027-03-04 07:00,lost,1,{'x' * 2001}", mapping, head)[0]
    both = reasons("soon,lost,many,x", mapping, head)
    assert [told.partition(" ")[0] for told in both] == ['"soon"', "value"]


def test_long_cells_are_shortened_in_what_is_said():
    assert max(map(len, reasons(f"{'y' * 100_000},{'z' * 1000}"))) < 200


def test_cells_behind_the_last_column_may_be_empty_and_blank_lines_are_none():
    log = read("\n  \nWhen,Event,\n\n2027-03-04 07:00,OPEN,,\n,,\n\n2027-03-04 08:00,OPEN,\n\n")
    assert log.lines == (5, 8)
    assert log.rejects == ()


def test_rejects_are_written_as_csv_that_no_spreadsheet_obeys():
    content = rejects_file(
        [Reject(7, '=cmd,"a"\n\u00e9', ("one", "two")), Reject(9, "x", ("three",))]
    )
    assert list(csv.reader(io.StringIO(content.decode(), newline=""))) == [
        ["line", "reason", "row"],
        ["7", "one; two", '\'=cmd,"a"\n\u00e9'],
        ["9", "three", "x"],
    ]
    assert rejects_file([]) == b"line,reason,row\r\n"


# --- Files ---------------------------------------------------------------------------------------

TWO_ROWS = "When,Event\r\n2027-03-04 07:00,OPEN\r\n2027-03-04 20:14,Door closed\r\n"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\r\n", "\n", "\r"])
def test_files_as_programs_write_them_are_read(encoding, delimiter, end):
    text = TWO_ROWS.replace(",", delimiter).replace("\r\n", end)
    assert kinds(read(text.encode(encoding))) == ["opened", "shut"]


def test_utf_16_of_the_other_byte_order_is_read():
    assert kinds(read(b"\xfe\xff" + TWO_ROWS.encode("utf-16-be"))) == ["opened", "shut"]


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-32"])
def test_what_has_a_nul_beside_each_letter_is_refused(encoding):
    assert "no text: save it as UTF-8" in refusal(TWO_ROWS.encode(encoding))


def test_a_file_of_an_older_program_is_refused_with_its_line():
    assert refusal(TWO_ROWS.replace("closed", "geschl\u00fcpft").encode("cp1252")) == (
        "log.csv, line 3: the byte 0xFC is not UTF-8, as in old files: save it as "
        "UTF-8 (CSV UTF-8 in spreadsheets)"
    )


def test_nuls_behind_the_last_row_are_nothing():
    assert kinds(read(TWO_ROWS.encode() + b"\0" * 4096)) == ["opened", "shut"]


def test_half_a_character_is_refused():
    assert "save it as UTF-8" in refusal(TWO_ROWS.encode("utf-16") + b"x")


@pytest.mark.parametrize("content", [b"", b"\xef\xbb\xbf", b"\n\n  \n", b"\xff\xfe"])
def test_an_empty_file_is_refused(content):
    assert refusal(content) == (
        "log.csv: is empty: a log has a row of column names and rows below it"
    )


def test_a_file_without_rows_is_refused():
    assert "holds column names and no row" in refusal(b"When,Event\n\n")


def test_a_huge_file_is_refused_and_so_are_a_million_columns():
    assert refusal(b"x" * 50_000_000) == "log.csv: is over 20 MB: cut it into parts of a year"
    assert "is over" not in refusal(b"x" * LARGEST_BYTES)
    assert "has 1000000 columns" in refusal(b"a," * 999_999 + b"a\n1,2\n")


def test_a_quotation_mark_that_is_never_closed_is_told():
    row = "2027-03-04 07:00,OPEN\n"
    said = refusal(f'When,Event\n{row}"{row * 10_000}')
    assert said.startswith("log.csv, line 3: cannot be cut into cells")
    assert "quotation mark" in said


def test_a_missing_column_is_told_with_those_that_are_there():
    assert refusal("Date,Event\n2027-03-04 07:00,OPEN\n") == (
        'log.csv, line 1: there is no column "When" among "Date" and "Event": correct instant of '
        '[[diary.log]] "shed"'
    )
    many = ",".join(f"c{number}" for number in range(300))
    assert refusal(f"{many}\n{many}\n").count('"c') == 20


def test_a_column_that_stands_twice_is_refused():
    assert "stands twice" in refusal("When,Event,when\n2027-03-04 07:00,OPEN,x\n")


def test_a_delimiter_that_is_told_is_the_one():
    mapping = MAPPING + 'delimiter = ";"\nnote = "N"\n'
    assert kinds(read("When;Event;N\n2027-03-04 07:00;OPEN;a,b,c,d\n", mapping)) == ["opened"]
    assert 'among "When,Event"' in refusal("When,Event\n2027-03-04 07:00,OPEN\n", mapping)


def test_quoted_cells_may_hold_delimiters_and_quotes():
    log = read('When,Event,N\n"2027-03-04 07:00","OPEN","a, ""b"""\n', f'{MAPPING}note = "N"\n')
    assert [one.note for one in log.entries] == ['a, "b"']


# --- Whatever comes ------------------------------------------------------------------------------

ZONES = ["Europe/Oslo", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu", "Etc/GMT+12"]
FORMATS = [
    *("%Y-%m-%d %H:%M:%S", "%d.%m.%Y %H:%M:%S", "%m/%d/%Y %I:%M:%S %p", "%d %B %Y, %H.%M.%S"),
    *("%Y%m%dT%H%M%S", "%y-%j %H:%M:%S", "%A %d %b %Y at %I.%M.%S%p", "%Y-%m-%dT%H:%M:%S%z"),
]


@given(
    st.lists(
        st.datetimes(*map(dt.datetime.fromisoformat, ("1990-01-01", "2037-06-30"))),
        min_size=1,
        max_size=6,
        unique=True,
    ),
    st.sampled_from(ZONES),
    st.sampled_from(FORMATS),
    st.sampled_from([",", ";", "tab"]),
)
def test_instants_come_back_from_any_zone_and_format(some, zone, form, delimiter):
    """Wall-clock times are made by the standard library's zones."""
    instants = [one.replace(microsecond=0, tzinfo=dt.UTC) for one in sorted(some)]
    here = site(
        Spot(0, 0, zone),
        f"{MAPPING}format = '{form}'\ndelimiter = \"{delimiter}\"\n",
    )
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter="\t" if delimiter == "tab" else delimiter)
    writer.writerow(["When", "Event"])
    for instant in instants:
        writer.writerow([instant.astimezone(ZoneInfo(zone)).strftime(form), "OPEN"])
    log = read_log(out.getvalue().encode(), "log.csv", here.settings.diary.log[0], here)
    found = {
        line: entry.instant_utc.item().replace(tzinfo=dt.UTC)
        for line, entry in zip(log.lines, log.entries, strict=True)
    }
    for line, instant in enumerate(instants, 2):
        # A repeated hour is the one thing that such a text may leave open.
        repeated = instant.astimezone(ZoneInfo(zone))
        twice = repeated.replace(fold=0).utcoffset() != repeated.replace(fold=1).utcoffset()
        assert found.get(line, instant if twice else None) == instant


pieces = st.sampled_from(
    [
        *(b"When", b"Event", b"instant", b"what", b",", b";", b"\t", b'"', b"\n", b"\r\n", b"\0"),
        *(b"2027-03-04 20:14", b"03/04/2027 8:14 PM", b"2027-10-31 02:30", b"24:00", b"OPEN"),
        *(b"2027-03-04T20:14:00Z", b"1804191245", b"\xff\xfe", b"\xef\xbb\xbf", b"\xe4", b"opened"),
        *(b"0001-01-01T00:00:00+14:00", b"9999-12-31 24:00", b"When,Event\n", b"instant,what\n"),
        b"\xe2\x80\xae",
    ]
)
FUZZED = [
    site(UTRECHT, MAPPING),
    site(UTRECHT, f'{PLAIN}format = "%d.%m.%Y %H:%M"\nclock = "door"\n'),
    site(UTRECHT, f'[door]\nclock = "standard"\n{PLAIN}clock = "door"\ntakes_s = 600\n'),
]


@given(
    st.one_of(
        st.binary(max_size=200),
        st.lists(pieces, max_size=30).map(b"".join),
        st.lists(pieces, max_size=30).map(lambda some: b"When,Event\n" + b"".join(some)),
        st.lists(pieces, max_size=30).map(lambda some: ",".join(COLUMNS).encode() + b"".join(some)),
    ),
    st.sampled_from([*FUZZED, None]),
)
def test_no_input_raises_anything_else(content, here):
    try:
        log = read_log(content, "log.csv", here and here.settings.diary.log[0], here or FUZZED[0])
    except LogError:
        return
    assert all(reject.reasons for reject in log.rejects)
    assert len(log.entries) == len(log.lines)
    rejects_file(log.rejects)
