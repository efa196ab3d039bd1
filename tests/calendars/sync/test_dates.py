"""A sync of some dates, of a sitter's entries, and taking entries out, on a real server."""

from __future__ import annotations

import re
import sys

import icalendar
import pytest

from peers.radicale_server import USER
from sites import ID
from sync_sites import ALL, counted, write_site

# Seven days are in the window, from 18 to 24 March 2027; these lie within and beyond it.
DATES = ("--from", "2027-03-23", "--until", "2027-03-26")
AWAY = """\
[flock]
birds = 9
[[span]]
from = 2027-03-24
until = 2027-03-25
away = true
sitter = "Sam"
reason = "the coast"
"""


def with_span(server, hens, settings=AWAY):
    # The spans stand last in a file.
    write_site(f"{server.url}{USER}/{hens}/", sync="days_ahead = 4\ndays_behind = 2\n" + settings)


def uids(server, hens):
    """Return the identities of what is there, without the site's: date and kind."""
    found = set()
    for text in server.texts(hens).values():
        (event,) = icalendar.Calendar.from_ical(text).events
        found.add(str(event["UID"]).removeprefix(f"{ID}-"))
    return found


def days_of(found, *kinds):
    return sorted(one.partition("-")[0] for one in found if one.partition("-")[2] in kinds)


def test_entries_of_other_dates_are_not_touched(server, hens, daylatch):
    assert counted(daylatch("sync")) == (ALL, 0, 0, 0, 0)
    before = server.texts(hens)
    # Every day has another time now, and only two days of the window are looked after.
    write_site(f"{server.url}{USER}/{hens}/", settings="[open]\noffset_min = 40\n")
    ran = daylatch("sync", *DATES)
    assert (ran.status, ran.err, counted(ran)) == (0, "", (4, 2, 0, 2, 0))
    assert "2027-03-23 to 2027-03-26" in ran.out
    after = server.texts(hens)
    changed = {name for name in before if after[name] != before[name]}
    assert {re.search(r"-(\d{8})-", before[name])[1] for name in changed} == {
        "20270323",
        "20270324",
    }


def test_dates_with_a_span_away_have_the_sitters_entries_too(server, hens, daylatch):
    with_span(server, hens)
    ran = daylatch("sync", *DATES)
    assert (ran.status, ran.err, counted(ran)) == (0, "", (12, 0, 0, 0, 0))
    found = uids(server, hens)
    assert days_of(found, "lookopen") == ["20270324", "20270325"]
    assert days_of(found, "lookclose") == ["20270324", "20270325"]
    assert days_of(found, "open") == ["20270323", "20270324", "20270325", "20270326"]
    # What is kept up to date day by day leaves them alone.
    before = server.texts(hens)
    ran = daylatch("sync")
    assert counted(ran)[:3] == (2 * 5, 0, 0)
    after = server.texts(hens)
    assert all(after[name] == text for name, text in before.items())


def test_a_sync_leaves_a_sitters_entries_though_nobody_is_away_any_more(server, hens, daylatch):
    with_span(server, hens)
    daylatch("sync", *DATES)
    write_site(f"{server.url}{USER}/{hens}/")
    daylatch("sync")
    daylatch("sync", *DATES)
    assert len(days_of(uids(server, hens), "lookopen", "lookclose")) == 4


def test_a_sitters_calendar_has_a_sitters_entries_alone(server, hens, daylatch):
    with_span(server, hens)
    assert counted(daylatch("sync", "--away")) == (4, 0, 0, 0, 0)
    assert {one.partition("-")[2] for one in uids(server, hens)} == {"lookopen", "lookclose"}
    # Other dates, which the file does not know.
    write_site(f"{server.url}{USER}/{hens}/")
    ran = daylatch("sync", "--away", "--from", "2027-04-01", "--until", "2027-04-01")
    assert (ran.status, counted(ran)) == (0, (2, 0, 0, 0, 0))
    ran = daylatch("sync", "--away")
    assert (ran.status, ran.out) == (2, "")
    assert "has no dates to come on which you are away: add --from and --until" in ran.err


def test_nothing_says_that_the_keeper_is_away_unless_asked(server, hens, daylatch):
    with_span(server, hens)
    daylatch("sync", "--away")
    said = "".join(server.texts(hens).values()).replace("\n ", "")
    assert "count heads" in said
    for word in ("Sam", "coast", "away", "sitter"):
        assert word not in said.lower().replace("sam", "Sam")
    with_span(server, hens, '[calendar]\nshow = ["away"]\n[card]\ncall = "555-0142"\n' + AWAY)
    assert counted(daylatch("sync", "--away")) == (0, 4, 0, 0, 0)
    said = "".join(server.texts(hens).values()).replace("\r\n ", "").replace("\n ", "")
    assert "The keeper is away\\; looked after by: Sam" in said
    assert "Whom to call: 555-0142" in said


def test_another_calendar_of_the_account_is_named(server, hens, daylatch):
    write_site(f"{server.url}{USER}/")
    sitter = f"{hens}-sitter"
    ran = daylatch("sync", *DATES, "--calendar", sitter)
    assert (ran.status, counted(ran)) == (0, (8, 0, 0, 0, 0))
    assert f'"{sitter}"' in ran.out


def test_own_entries_of_some_dates_are_taken_out(server, hens, daylatch):
    with_span(server, hens)
    daylatch("sync")
    daylatch("sync", "--away")
    strange = server.texts(hens)
    ran = daylatch("sync", "--remove", "--from", "2027-03-24", "--until", "2027-03-24", "--dry-run")
    assert counted(ran) == (0, 0, 4, 0, 0)
    assert server.texts(hens) == strange
    ran = daylatch("sync", "--remove", "--from", "2027-03-24", "--until", "2027-03-24")
    assert (ran.status, ran.err, counted(ran)) == (0, "", (0, 0, 4, 0, 0))
    found = uids(server, hens)
    assert "20270324" not in days_of(found, "open", "close", "lookopen", "lookclose")
    assert len(found) == ALL + 4 - 4
    ran = daylatch("sync", "--remove", "--away", "--from", "2027-03-18", "--until", "2027-03-26")
    assert counted(ran) == (0, 0, 2, 0, 0)
    assert days_of(uids(server, hens), "lookopen", "lookclose") == []


def edited(server, hens, uid):
    """Change the title of an entry as another program would."""
    (name,) = (name for name, text in server.texts(hens).items() if uid in text)
    text = server.texts(hens)[name].replace("Close the hen house door", "Mine")
    server.put(hens, name, text)


def test_what_was_edited_is_never_taken_out_unless_it_may(server, hens, daylatch):
    daylatch("sync")
    edited(server, hens, f"{ID}-20270320-close")
    ran = daylatch("sync", "--remove", "--yes")
    assert ran.status == 8
    assert counted(ran) == (0, 0, ALL - 1, 0, 1)
    assert uids(server, hens) == {"20270320-close"}
    ran = daylatch("sync", "--remove", "--yes", "--overwrite")
    assert (ran.status, counted(ran)) == (0, (0, 0, 1, 0, 0))
    assert uids(server, hens) == set()


def test_taking_out_all_is_asked_first(server, hens, daylatch, monkeypatch):
    daylatch("sync")
    daylatch("sync", "--from", "2028-01-01", "--until", "2028-01-01")
    ran = daylatch("sync", "--remove")
    assert (ran.status, len(uids(server, hens))) == (2, ALL + 2)
    assert f"{ALL + 2} entries would be taken out, of all dates" in ran.err
    assert "add --yes, or --from and --until" in ran.err
    for answer, left in (("n", ALL + 2), ("y", 0)):
        asked = []
        monkeypatch.setattr(sys.stdin, "isatty", lambda: True)
        monkeypatch.setattr(
            "typer.confirm", lambda words, a=answer, asked=asked: (asked.append(words), a == "y")[1]
        )
        ran = daylatch("sync", "--remove")
        assert asked == [f"Take out all {ALL + 2} entries of Test house, of all dates?"]
        assert len(uids(server, hens)) == left
        assert ran.status == (0 if answer == "y" else 2)


def test_entries_of_others_are_never_taken_out(server, hens, daylatch):
    other = "9f0c4f2e-66f1-4b80-8a53-7f4e27a0b5d1"
    url = f"{server.url}{USER}/{hens}/"
    daylatch("sync")
    write_site(url, path="other.toml", id_=other, name="Another house")
    daylatch("sync", "other.toml")
    server.put(hens, "mine.ics", MINE)
    ran = daylatch("sync", "--remove", "--yes")
    assert counted(ran) == (0, 0, ALL, 0, 0)
    texts = server.texts(hens)
    assert len(texts) == ALL + 1
    assert all(other in text or "UID:mine" in text for text in texts.values())


MINE = """BEGIN:VCALENDAR\r
VERSION:2.0\r
PRODID:-//somebody//EN\r
BEGIN:VEVENT\r
UID:mine\r
DTSTAMP:20270101T000000Z\r
DTSTART:20270320T100000Z\r
DTEND:20270320T110000Z\r
SUMMARY:Mine\r
END:VEVENT\r
END:VCALENDAR\r
"""


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--from", "2027-04-01"), "--from says when it begins: add --until, the last date"),
        (("--yes",), "--yes answers what --remove asks: add --remove, or leave it out"),
        (
            ("--from", "2027-04-02", "--until", "2027-04-01"),
            "--until 2027-04-01 lies before --from 2027-04-02: swap them",
        ),
        (("--calendar", " "), '--calendar is "": write the name of a calendar'),
    ],
)
def test_what_cannot_be_asked_is_one_message(server, hens, daylatch, arguments, message):
    ran = daylatch("sync", *arguments)
    assert (ran.status, ran.out, ran.err) == (2, "", f"daylatch: {message}\n")
    assert server.texts(hens) == {}


def test_steps_of_some_dates_are_those_of_the_month(server, hens, daylatch):
    """The first of the dates has no entry of its own, unless a step is passed on it."""
    style = '[calendar]\nstyle = "steps"\nstep_min = 60\n'
    write_site(f"{server.url}{USER}/{hens}/", settings=style)
    daylatch("sync")
    whole = {one for one in uids(server, hens) if "20270319" <= one[:8] <= "20270323"}
    daylatch("sync", "--remove", "--yes")
    daylatch("sync", "--from", "2027-03-19", "--until", "2027-03-23")
    assert uids(server, hens) == whole


@pytest.mark.parametrize("first", ["2027-04-01", "2027-03-01", "2027-03-15", "2027-03-31"])
def test_a_date_of_steps_is_that_of_the_whole_window(server, hens, daylatch, first):
    """Not even the first of a month is begun anew: the next plain sync finds nothing to do."""
    style = '[calendar]\nstyle = "steps"\nstep_min = 60\n'
    write_site(f"{server.url}{USER}/{hens}/", settings=style, sync="days_ahead = 40\n")
    daylatch("sync")
    before = server.texts(hens)
    assert counted(daylatch("sync", "--from", first, "--until", first))[:3] == (0, 0, 0)
    assert server.texts(hens) == before


def test_what_is_taken_out_needs_no_plan(server, hens, daylatch):
    daylatch("sync")
    # In June the Sun never gets so low.
    write_site(
        f"{server.url}{USER}/{hens}/", settings="[close]\nlight = 30\n", sync="days_ahead = 120\n"
    )
    assert daylatch("sync").status == 4
    ran = daylatch("sync", "--remove", "--from", "2050-01-01", "--until", "2050-01-02")
    assert (ran.status, counted(ran)) == (0, (0, 0, 0, 0, 0))
    ran = daylatch("sync", "--remove", "--yes")
    assert (ran.status, counted(ran)) == (0, (0, 0, ALL, 0, 0))
