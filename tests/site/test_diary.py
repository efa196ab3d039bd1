"""The diary's table of the site file: what its logs may say, and what is said of slips."""

from __future__ import annotations

import pytest

from daylatch.errors import SiteError, UsageError
from daylatch.site.reading.site_file import read_site
from daylatch.site.writing import Writing

SITE = (
    'id = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"\nname = "x"\n'
    '[place]\nlatitude = 52.09\nlongitude = 5.12\nzone = "Europe/Amsterdam"\n'
)
LOG = '[[diary.log]]\nname = "shed"\ninstant = "When"\nwhat = "Event"\n'


def diary_of(text, changes=()):
    return read_site(SITE + text, "site.toml", changes).settings.diary


def problems(text, changes=()):
    with pytest.raises(SiteError) as caught:
        diary_of(text, changes)
    return [line.partition(": ")[2] for line in caught.value.lines]


def test_logs_are_read_in_their_order_with_what_they_leave_out():
    diary = diary_of(
        f'[diary]\nfile = "hens.diary"\n{LOG}words = {{ OPEN = "opened", beat = "" }}\n'
        '[[diary.log]]\nname = "door"\ndate = "D"\ntime = "T"\nkind = "shut"\nclock = "door"\n'
    )
    shed, door = diary.log
    assert diary.file == "hens.diary"
    assert (shed.name, shed.words, shed.stamp) == ("shed", {"OPEN": "opened", "beat": ""}, "server")
    assert (door.kind, door.stamp, door.takes_s) == ("shut", "door", 0)


def test_words_may_stand_in_a_table_of_their_own():
    assert diary_of(f'{LOG}[diary.log.words]\n"door open" = "opened"\n').log[0].words == {
        "door open": "opened"
    }


def test_every_slip_in_every_log_is_told_with_its_line():
    with pytest.raises(SiteError) as caught:
        diary_of(
            f'{LOG}frmat = "x"\nwords = {{ OPEN = "opend" }}\n'
            '[[diary.log]]\nname = "b"\ninstant = "T"\nkind = "shut"\nclock = "Europe/Olso"\n'
            'takes_s = 601\n[[diary.log]]\nwhat = "W"\n'
        )
    first, kind, zone, takes, name = caught.value.lines
    assert first == (
        'site.toml, line 11: diary.log 1 frmat = "x": is not a key here; did you mean format?'
    )
    assert kind.startswith('site.toml, line 12: diary.log 1 words.OPEN = "opend": write one of ')
    assert zone == (
        'site.toml, line 17: diary.log 2 clock = "Europe/Olso": no such clock; did you mean '
        "Europe/Oslo?"
    )
    assert takes == "site.toml, line 18: diary.log 2 takes_s = 601: must be at most 600"
    assert name == "site.toml, line 19: diary.log 3 name: is missing"


WHEN = "give instant, or date and time: the columns that say when"
WHAT = "give what, the column that says what happened, or kind for all rows"


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ('what = "W"', WHEN),
        ('what = "W"\ndate = "D"', WHEN),
        ('what = "W"\ninstant = "I"\ntime = "T"', WHEN),
        ('what = "W"\ninstant = "I"\ndate = "D"\ntime = "T"', WHEN),
        ('instant = "I"', WHAT),
        ('instant = "I"\nwhat = "W"\nkind = "shut"', WHAT),
        (
            'instant = "I"\nkind = "shut"\nwords = { a = "shut" }',
            "give what, the column in which the words stand",
        ),
    ],
)
def test_a_log_says_when_and_what_once(keys, said):
    assert problems(f'[[diary.log]]\nname = "x"\n{keys}\n') == [f"diary.log 1: {said}"]


@pytest.mark.parametrize(
    "text", ["%d.%m.%Y", "%H:%M", "%d.%m.%Y %I:%M", "%d %d %Y", "%", "%Q", "now", ""]
)
def test_a_format_that_gives_no_whole_moment_is_refused(text):
    (said,) = problems(f"{LOG}format = '{text}'\n")
    assert said.startswith("diary.log 1 format = ")
    assert "gives no whole date and time" in said


@pytest.mark.parametrize(
    "text", ["%d.%m.%Y %H:%M", "%m/%d/%y %I:%M %p", "%Y%m%dT%H%M%S%z", "%d %B %Y, %H.%M.%S.%f"]
)
def test_a_format_that_gives_one_is_taken(text):
    assert diary_of(f"{LOG}format = '{text}'\n").log[0].format == text


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ('{ a = "shut", " A" = "opened" }', '"a" and " A" are the same word'),
        ("{}", "write 1 to 200 words"),
        (f'{{ {"x" * 101} = "shut" }}', "is too long: at most 100 characters"),
        ('{ "a\\u200b" = "shut" }', "take out the invisible character U+200B"),
    ],
)
def test_words_that_cannot_be_are_refused(words, said):
    (line,) = problems(f"{LOG}words = {words}\n")
    assert line.startswith("diary.log 1 words: ")
    assert said in line


@pytest.mark.parametrize("text", ["[diary]\nlog = 5\n", '[diary.log]\nname = "x"\n'])
def test_one_table_instead_of_a_list_is_said(text):
    (said,) = problems(text)
    assert said.endswith("is a list of tables: write [[diary.log]] for each")


def test_two_logs_of_one_name_are_refused():
    assert problems(LOG + LOG.replace("shed", "Shed ")) == [
        'diary: two logs have the name "shed": give each its own'
    ]


def test_a_log_can_be_changed_by_its_number():
    assert diary_of(LOG, ["diary.log.1.clock=UTC"]).log[0].clock == "UTC"
    with pytest.raises(UsageError, match=r"the file has 0 of diary\.log"):
        diary_of("", ["diary.log.1.clock=UTC"])


def test_each_key_of_a_log_is_told():
    plain = list(diary_of(LOG).told(Writing().ways))
    for key in (
        'words = { a = "shut" }',
        'value = "V"',
        'note = "N"',
        'format = "%Y-%m-%d %H:%M"',
        'clock = "UTC"',
        'stamped_by = "door"',
        "within_min = 3",
        "takes_s = 9",
        'delimiter = "tab"',
    ):
        assert list(diary_of(f"{LOG}{key}\n").told(Writing().ways)) != plain, key
