"""What has to be done to a calendar: by two lists, without any server."""

from __future__ import annotations

import datetime as dt
import functools
from collections import Counter

import icalendar
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daylatch.calendars.entries import make_events
from daylatch.calendars.sync.content import (
    CONTENT_MARK,
    SITE_MARK,
    make_object,
    read_found,
    site_mark,
    want,
)
from daylatch.calendars.sync.differences import Kind, Scope, compare, strangers
from daylatch.calendars.sync.sending import ChangedMeanwhileError, Sending
from daylatch.plan.due import exactly
from daylatch.site.reading.site_file import read_site
from sites import ID, LORD_HOWE, TAMPERE, UTRECHT, plan, site

STAMP = dt.datetime(2027, 1, 1, tzinfo=dt.UTC)
MARK = site_mark(site(UTRECHT))
SCOPE = Scope(ID, MARK, dt.date(2027, 3, 20), dt.date(2027, 4, 2))
ZONED = '[calendar]\ntimes = "zone"\nreminder_min = 20\nshow = ["place", "reasons"]\n'


@functools.cache
def wanted_of(tables: str = "", spot=UTRECHT):
    found = plan(spot, "2027-03-20", "2027-04-02", tables)
    return [want(event, found.zone) for event in make_events(exactly(found))]


def stored(wanted, *, mark=MARK, found=None):
    """Return an entry as a server has it that changes nothing."""
    data = make_object(wanted, mark, found, STAMP).decode()
    return read_found(f"https://x.example/{wanted.uid}.ics", '"1"', data), data


def kinds(wanted, found, scope=SCOPE):
    return Counter(one.kind for one in compare(wanted, found, scope))


@pytest.mark.parametrize("tables", ["", ZONED, '[calendar]\nstyle = "days"\n'])
def test_what_was_written_is_kept(tables):
    wanted = wanted_of(tables)
    found = [stored(one)[0] for one in wanted]
    assert kinds(wanted, found) == {Kind.KEEP: len(wanted)}
    assert kinds(wanted, []) == {Kind.ADD: len(wanted)}


def test_only_what_differs_is_changed():
    before, after = wanted_of(), wanted_of('[open]\nnot_before = "06:40"\n')
    found = [stored(one)[0] for one in before]
    opens = {one.uid for one in before if one.uid.endswith("open")}
    differences = compare(after, found, SCOPE)
    changed = {one.uid for one in differences if one.kind is Kind.CHANGE}
    assert changed
    assert changed < opens
    assert {one.kind for one in differences} == {Kind.CHANGE, Kind.KEEP}
    assert all(one.wanted and one.found for one in differences)


def test_upkeep_is_kept_and_taken_away_as_the_site_file_asks():
    plain, asked = wanted_of(), wanted_of("[calendar]\nupkeep = true\n")
    upkeep = [one for one in asked if one.uid not in {each.uid for each in plain}]
    assert [one.uid.removeprefix(f"{ID}-") for one in upkeep] == [
        "20270401-clockcheck",
        "20270401-monthly",
    ]
    found = [stored(one)[0] for one in asked]
    assert kinds(asked, found) == {Kind.KEEP: len(asked)}
    differences = compare(plain, found, SCOPE)
    assert {one.uid for one in differences if one.kind is Kind.REMOVE} == {o.uid for o in upkeep}
    assert kinds(plain, found) == {Kind.KEEP: len(plain), Kind.REMOVE: 2}
    # Another site's, or one that somebody edited, is left.
    edited = stored(upkeep[0])[1].replace("SUMMARY:Compare", "SUMMARY:Do not compare")
    there = read_found("https://x.example/a.ics", '"2"', edited)
    assert kinds([], [there]) == {Kind.CONFLICT: 1}
    other = Scope("another", MARK, SCOPE.first, SCOPE.last)
    assert kinds([], found, other) == {}


def test_a_change_counts_on_from_what_the_server_has():
    one = wanted_of()[0]
    first, data = stored(one)
    assert icalendar.Calendar.from_ical(data).events[0]["SEQUENCE"] == 0
    found = read_found("https://x.example/a.ics", '"1"', data.replace("SEQUENCE:0", "SEQUENCE:6"))
    assert found.digest == first.digest
    again = icalendar.Calendar.from_ical(make_object(one, MARK, found, STAMP)).events[0]
    assert again["SEQUENCE"] == 7
    assert again["LAST-MODIFIED"].dt == STAMP


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("SUMMARY:Open", "SUMMARY:Do not open"),
        ("T0", "T1"),
        ("TRANSP:TRANSPARENT", "TRANSP:OPAQUE"),
        ("END:VEVENT", "LOCATION:The other shed\r\nEND:VEVENT"),
        ("END:VEVENT", "RRULE:FREQ=DAILY\r\nEND:VEVENT"),
        ("END:VEVENT", "BEGIN:VALARM\r\nACTION:AUDIO\r\nTRIGGER:PT0S\r\nEND:VALARM\r\nEND:VEVENT"),
        ("DTSTART:", "DTSTART;TZID=Asia/Tokyo:"),
    ],
)
def test_an_edit_made_elsewhere_is_never_overwritten_silently(old, new):
    one = wanted_of()[0]
    data = stored(one)[1]
    assert old in data
    edited = read_found("https://x.example/a.ics", '"2"', data.replace(old, new))
    assert edited.uid == one.uid
    other = [*wanted_of('[open]\nnot_before = "07:30"\n')[:1]]
    for wanted in ([one], other, []):
        assert kinds(wanted, [edited]) == {Kind.CONFLICT: 1}
    over = Scope(ID, MARK, SCOPE.first, SCOPE.last, overwrite=True)
    assert kinds([one], [edited], over) == {Kind.CHANGE: 1}
    assert kinds([], [edited], over) == {Kind.REMOVE: 1}


def test_what_servers_and_readers_do_to_an_entry_is_no_edit():
    one = wanted_of(ZONED)[1]
    data = stored(one)[1]
    assert "BEGIN:VTIMEZONE" in data
    lines = data.replace("\r\n ", "").split("\r\n")
    start = lines.index("BEGIN:VEVENT") + 1
    end = lines.index("BEGIN:VALARM")
    lines[start:end] = sorted(lines[start:end], reverse=True)
    text = "\n".join(lines)
    for old, new in (
        ("DTSTAMP:20270101", "DTSTAMP:20270309"),
        ("END:VALARM", "ACKNOWLEDGED:20270101T000000Z\nUID:1-2\nX-SEEN:1\nEND:VALARM"),
        ("END:VEVENT", "CREATED:20270101T000000Z\nX-OTHER-READER:1\nLOCATION:\nEND:VEVENT"),
        ("TRIGGER:", "TRIGGER;VALUE=DURATION:"),
        ("PRODID:-//daylatch//calendar sync//EN", "PRODID:-//another//EN"),
        ("\nSEQUENCE:0", "\nSEQUENCE:3"),
    ):
        assert old in text, old
        text = text.replace(old, new)
    assert kinds([one], [read_found("https://x.example/a.ics", "", text)]) == {Kind.KEEP: 1}


def test_a_server_that_takes_the_marks_away_is_not_written_to_again():
    one = wanted_of()[0]
    lines = stored(one)[1].split("\r\n")
    bare = "\r\n".join(line for line in lines if not line.startswith("X-DAYLATCH"))
    found = read_found("https://x.example/a.ics", "", bare)
    assert found.mark is None
    assert kinds([one], [found]) == {Kind.KEEP: 1}
    # Without the mark nobody knows whose words these are: left alone, and never removed.
    changed = wanted_of('[open]\nnot_before = "07:30"\n')[:1]
    assert kinds(changed, [found]) == {Kind.CONFLICT: 1}
    assert kinds([], [found]) == {}


def test_what_is_not_ours_or_not_in_the_window_is_left_out():
    other_id = "11111111-1111-4111-8111-111111111111"
    one = wanted_of()[0]
    data = stored(one)[1]
    for uid in (
        one.uid.replace(ID, other_id),
        one.uid.replace("20270320", "20270319"),
        one.uid.replace("20270320", "20270403"),
        one.uid.replace("20270320", "20270230"),
        f"{ID}-20270320",
        f"{ID}-20270320-open-x",
        f"x{one.uid}",
        "dentist@example.org",
    ):
        found = read_found("https://x.example/a.ics", '"1"', data.replace(one.uid, uid))
        assert found.uid == uid
        assert kinds([], [found]) == {}
        assert strangers([found], SCOPE) == []
    assert kinds([], [stored(one)[0]]) == {Kind.REMOVE: 1}


def test_times_named_by_a_zone_are_sent_again_when_its_law_changes():
    one = wanted_of(ZONED)[0]
    data = stored(one)[1]
    mark = f"{one.content.digest}-{one.content.zone}"
    assert mark in data
    law = read_found("https://x.example/a.ics", "", data.replace(mark, f"{mark[:-8]}00000000"))
    assert law.digest == one.content.digest
    assert kinds([one], [law]) == {Kind.CHANGE: 1}


def test_another_site_with_the_same_id_is_seen():
    others = [
        read_site(
            f'id = "{ID}"\nname = "{name}"\n[place]\nlatitude = {latitude}\nlongitude = 5.12\n',
            "other.toml",
        )
        for name, latitude in (("Other house", 52.09), ("Test house", 54.0), ("Test house", 52.1))
    ]
    assert [site_mark(other) == MARK for other in others] == [False, False, True]
    one = wanted_of()[0]
    found = stored(one, mark=site_mark(others[0]))[0]
    assert strangers([found, stored(wanted_of()[1])[0]], SCOPE) == [found]
    # Said to be renamed: its mark has to change, so it is sent again.
    assert kinds([one], [found]) == {Kind.CHANGE: 1}


@pytest.mark.parametrize("data", ["", "BEGIN:VEVENT", "\0", "BEGIN:VCALENDAR\nEND:VCALENDAR", ":"])
def test_what_cannot_be_read_is_no_entry(data):
    assert read_found("https://x.example/a.ics", "", data) is None


WORDS = st.text(st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp"]), max_size=60)


@settings(max_examples=60)
@given(WORDS, WORDS, st.sampled_from([UTRECHT, TAMPERE, LORD_HOWE]), st.booleans())
def test_any_text_is_kept_through_folding_and_escapes(summary, notes, spot, zoned):
    found = plan(spot, "2027-03-20", "2027-03-20", ZONED if zoned else "")
    event = make_events(exactly(found))[0]
    event.pop("SUMMARY")
    event.add("SUMMARY", summary)
    event.add("COMMENT", notes)
    one = want(event, found.zone)
    data = make_object(one, MARK, None, STAMP)
    for text in (data, data.replace(b"\r\n ", b""), data.replace(b"\r\n", b"\n")):
        there = read_found("https://x.example/a.ics", "", text.decode())
        assert there.mark.content == one.content
        assert there.digest == one.content.digest


STATE = st.sampled_from(["missing", "same", "older", "edited", "unmarked"])


@settings(max_examples=40)
@given(st.lists(STATE, min_size=14, max_size=14), st.booleans())
def test_after_one_run_a_second_has_nothing_to_send(states, overwrite):
    """Whatever stands in the calendar: a run makes it so that the next one sends nothing."""
    wanted = wanted_of()[:14]
    older = {one.uid: one for one in wanted_of("[open]\noffset_min = 3\n[close]\noffset_min = 3\n")}
    scope = Scope(ID, MARK, SCOPE.first, SCOPE.last, overwrite)
    store = Memory()
    foreign = "BEGIN:VCALENDAR\nBEGIN:VEVENT\nUID:dentist\nEND:VEVENT\nEND:VCALENDAR"
    store.objects["dentist"] = foreign
    for one, state in zip(wanted, states, strict=True):
        if state == "missing":
            continue
        data = stored(older[one.uid] if state == "older" else one)[1]
        if state == "edited":
            data = data.replace("SUMMARY:", "SUMMARY:My ")
        if state == "unmarked":
            data = data.replace(CONTENT_MARK, "X-A").replace(SITE_MARK, "X-B")
        store.objects[one.uid] = data
    sending = Sending(store, scope, STAMP)
    sending.run(compare(wanted, store.found(), scope), lambda: None)
    count = Counter(states)
    edited = count["edited"]
    assert sending.counts == Counter(
        {
            Kind.ADD: count["missing"],
            Kind.CHANGE: count["older"] + edited * overwrite,
            Kind.KEEP: count["same"] + count["unmarked"],
            Kind.CONFLICT: edited * (not overwrite),
        }
    )
    assert store.objects["dentist"] == foreign
    again = compare(wanted, store.found(), scope)
    assert {one.kind for one in again} <= {Kind.KEEP, Kind.CONFLICT}
    assert sum(one.kind is Kind.CONFLICT for one in again) == edited * (not overwrite)


class Memory:
    """A calendar without a server; ``meddle`` may change an entry just before it is written."""

    def __init__(self):
        self.objects: dict[str, str] = {}
        self.meddle = lambda uid: None

    def found(self):
        return [self.read(uid) for uid in self.objects]

    def read(self, uid):
        data = self.objects[uid]
        return read_found(f"https://x.example/{uid}.ics", f'"{hash(data)}"', data)

    def entry(self, uid, found):
        return self.read(uid) if uid in self.objects else None

    def add(self, uid, content):
        self.meddle(uid)
        if uid in self.objects:
            raise ChangedMeanwhileError
        self.objects[uid] = content.decode()

    def change(self, found, content):
        self.meddle(found.uid)
        self._check(found)
        self.objects[found.uid] = content.decode()

    def remove(self, found):
        self.meddle(found.uid)
        self._check(found)
        del self.objects[found.uid]

    def _check(self, found):
        if found.uid not in self.objects or self.read(found.uid).etag != found.etag:
            raise ChangedMeanwhileError


def send(store, wanted, *, overwrite=False):
    scope = Scope(ID, MARK, SCOPE.first, SCOPE.last, overwrite)
    sending = Sending(store, scope, STAMP)
    sending.run(compare(wanted, store.found(), scope), lambda: None)
    return sending


def test_progress_is_told_after_each_entry_that_was_sent():
    wanted = wanted_of()[:9]
    store = Memory()
    for one in wanted[:3]:
        store.objects[one.uid] = stored(one)[1]
    gone = wanted_of()[9]
    store.objects[gone.uid] = stored(gone)[1]
    told = []
    sending = Sending(store, SCOPE, STAMP)
    sending.run(
        compare(wanted, store.found(), SCOPE), lambda: None, lambda *done: told.append(done)
    )
    assert sending.counts == Counter({Kind.ADD: 6, Kind.KEEP: 3, Kind.REMOVE: 1})
    assert told == [(done, 7) for done in range(1, 8)]


def test_an_edit_between_looking_and_writing_is_a_conflict():
    wanted = wanted_of()[:1]
    store = Memory()
    uid = wanted[0].uid
    store.objects[uid] = stored(wanted_of("[open]\noffset_min = 3\n")[0])[1]
    store.meddle = lambda uid: store.objects.update(
        {uid: store.objects[uid].replace("SUMMARY:", "SUMMARY:My ")}
    )
    sending = send(store, wanted)
    assert sending.counts == {Kind.CONFLICT: 1}
    assert [one.uid for one in sending.conflicts] == [uid]
    assert "SUMMARY:My Open" in store.objects[uid]


def test_the_same_sync_on_another_machine_meanwhile_is_none():
    wanted = wanted_of()[:1]
    store = Memory()
    uid = wanted[0].uid
    store.meddle = lambda uid: store.objects.setdefault(uid, stored(wanted[0])[1])
    assert send(store, wanted).counts == {Kind.KEEP: 1}
    # Removed between looking and changing: put there again.
    store.objects[uid] = stored(wanted_of("[open]\noffset_min = 3\n")[0])[1]
    store.meddle = lambda uid: store.objects.clear()
    assert send(store, wanted).counts == {Kind.ADD: 1}


def test_an_entry_that_never_stands_still_is_looked_at_twice_only():
    wanted = wanted_of()[:1]
    store = Memory()
    uid = wanted[0].uid
    store.objects[uid] = stored(wanted_of("[open]\noffset_min = 3\n")[0])[1]
    looked = []

    def meddle(uid):
        looked.append(uid)
        store.objects[uid] = store.objects[uid].replace("SUMMARY:", "SUMMARY:My ")

    store.meddle = meddle
    assert send(store, wanted, overwrite=True).counts == {Kind.CONFLICT: 1}
    assert len(looked) == 2
