"""The page of a house from its files: whatever becomes of the watch, it says what is due."""

from __future__ import annotations

import datetime as dt
import random
import re
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from daylatch.commands.due import due_of
from daylatch.commands.home import pages as module
from daylatch.commands.home.pages import HousePages
from daylatch.diary.entries import make_entry
from daylatch.diary.store.store import Diary
from daylatch.door.table.encode import encode
from daylatch.errors import DaylatchError
from daylatch.home.page.page import Reader
from daylatch.home.watch.alarms import Alarm
from daylatch.home.watch.kinds import Kind
from daylatch.home.watch.scene import Scene
from daylatch.home.watch.state import State
from daylatch.plan.moment import days_around, moment_at
from daylatch.plan.plan import make_plan
from daylatch.site.reading.site_file import load_site, read_site
from daylatch.site.watch import Watch
from peers.page_reader import PageReader
from random_sites import random_text
from roosting_flocks import entries, light_on, spread
from sites import HOUSE, ID
from watch_scenes import due_at

READER = Reader("keeper", may_write=True, form_token="x" * 64)


class House:
    """A house whose page is asked for, by a clock that is set."""

    def __init__(self, folder, monkeypatch, text=HOUSE, scene=None):
        (folder / "hens.toml").write_text(text)
        site = load_site(folder / "hens.toml")
        self.diary = Diary(folder / "hens.diary", site.id)
        source = SimpleNamespace(
            site=site,
            diary=self.diary,
            watch=Watch.model_construct(),
            diary_to_note=lambda *, had_one: self.diary,
        )
        self.watcher = SimpleNamespace(last_view=SimpleNamespace(scene=scene), state=State())
        self.source = source
        self.woken = []
        self.pages = HousePages(source, self.watcher, lambda: self.woken.append(1))
        self.now = np.datetime64("2027-03-10T12:00:00")
        monkeypatch.setattr(module, "any_now_utc", lambda: self.now)

    def page(self):
        return PageReader(self.pages.page(READER).decode())


@pytest.mark.parametrize("seed", range(4))
def test_it_says_the_same_as_today_does_at_random_moments_of_random_sites(
    tmp_path, monkeypatch, seed
):
    rng = random.Random(seed)
    compared = 0
    for number in range(30):
        text = random_text(rng, number)
        now = np.datetime64("2027-01-01T00:00:00") + np.timedelta64(rng.randrange(365 * 86400), "s")
        try:
            house = House(tmp_path, monkeypatch, text)
            moment = moment_at(due_of(days_around(house.source.site, now)), now)
        except DaylatchError:
            continue
        house.now = now
        text = house.page().text
        if "What is due cannot be told" in text:
            # The days behind may lack a fallback that today's do not need.
            continue
        assert f"The door should be {moment.state}" in text, (number, now)
        if moment.next_movement_utc is not None:
            time = moment.plan.site.face.time_at(moment.plan.zone, moment.next_movement_utc)
            assert f"should be {moment.state} until {time}" in text, (number, now)
        compared += 1
    assert compared >= 10


@pytest.mark.parametrize("seconds", [-1, 0, 1])
def test_to_the_second_of_a_movement(tmp_path, monkeypatch, seconds):
    house = House(tmp_path, monkeypatch)
    due = due_at(HOUSE, "2027-03-10")
    index = int(np.flatnonzero(due.plan.dates == np.datetime64("2027-03-10"))[0])
    house.now = due.close_utc[index].astype("datetime64[s]") + np.timedelta64(seconds, "s")
    state = "open" if seconds < 0 else "shut"
    assert f"The door should be {state} until" in house.page().text


def test_a_watch_that_hangs_does_not_make_it_say_what_was_due_days_ago(tmp_path, monkeypatch):
    old = Scene(due_at(HOUSE, "2027-03-01"), Watch.model_construct())
    house = House(tmp_path, monkeypatch, scene=old)
    house.watcher.state = State(looked_utc=np.datetime64("2027-03-01T12:00:00"))
    text = house.page().text
    assert "The door should be open until" in text
    assert "The watch last looked at 13:00 on Mon 1 Mar" in text


def test_a_clock_before_the_time_zone_rules_tells_nothing(tmp_path, monkeypatch):
    house = House(tmp_path, monkeypatch)
    house.now = np.datetime64("2001-03-10T12:00:00")
    text = house.page().text
    assert "What the door should be is not known." in text
    assert "What is due cannot be told: the keeper finds why in the log." in text


def test_at_the_end_of_the_time_zone_rules_it_says_what_is_known(tmp_path, monkeypatch):
    house = House(tmp_path, monkeypatch)
    house.now = np.datetime64("2037-12-30T12:00:00")
    assert "The door should be open until" in house.page().text


def test_what_is_changed_in_the_site_file_is_on_the_page(tmp_path, monkeypatch):
    house = House(tmp_path, monkeypatch)
    before = house.page().text
    house.source.site = read_site(f'{HOUSE}[close]\nnot_after = "18:00"\n', "hens.toml")
    after = house.page().text
    assert "open until 19:24" in before
    assert "open until 18:00" in after


def test_the_audit_is_made_ahead_and_again_when_it_is_old(tmp_path, monkeypatch):
    house = House(tmp_path, monkeypatch)
    assert "there is nothing to judge" in house.page().text
    due = due_at(HOUSE, "2027-03-10")
    shut = due.close_utc[0].astype("datetime64[s]") + np.timedelta64(200, "m")
    house.diary.add([make_entry(shut, "shut", by="door", stamped_by="server")], house.now)
    house.pages.prepare()
    assert "What the audit found" in house.page().text
    assert "Movements" in house.page().text
    house.diary.undo(house.now)
    house.pages.prepare()
    assert "Movements" in house.page().text
    house.now += np.timedelta64(11, "m")
    house.pages.prepare()
    assert "there is nothing to judge" in house.page().text


def test_when_the_birds_go_in_stands_beside_what_the_audit_found(tmp_path, monkeypatch):
    house = House(tmp_path, monkeypatch)
    moments = light_on("2026-09-01", 40, here=house.source.site) + spread(40)
    house.now = np.datetime64("2026-10-20T12:00:00")
    house.diary.add(entries("last_in", moments), house.now)
    house.pages.prepare()
    words = house.page().text
    assert "Going in" in words
    assert re.search(r"Your birds go in at (3\.9|4\.\d)°, \d+ min before the door shuts on", words)
    # What is still to come is not looked at.
    house.now = np.datetime64("2026-09-03T12:00:00")
    house.pages.prepare()
    assert "Your birds go in" not in house.page().text


def test_an_undone_tap_counts_no_more(tmp_path, monkeypatch):
    house = House(tmp_path, monkeypatch)
    house.now = np.datetime64("2027-03-10T19:00:00")
    fields = {"what": "all_in", "value": "", "tap": "0" * 32, "ago": "0"}
    tapped, said = house.pages.note(house.pages.read(fields, "Jo"))
    assert said == "Noted: all in (told by Jo), 20:00."
    assert "Tonight: all in (told by Jo), 20:00." in house.page().text
    assert house.pages.undo(tapped.noted.number) == "Undone: all in (told by Jo), 20:00."
    assert "Tonight: nobody has noted a head count" in house.page().text
    assert len(house.woken) == 2


def test_a_diary_of_another_house_is_not_shown(tmp_path, monkeypatch):
    house = House(tmp_path, monkeypatch)
    other = Diary(tmp_path / "hens.diary", ID.replace("6", "7", 1))
    other.add([make_entry(house.now, "note", note="of others")], house.now)
    text = house.page().text
    assert "what was counted cannot be told, so count heads." in text
    assert "of others" not in text
    assert "The diary cannot be read just now" in text
    assert "The door should be open until" in text


def test_papers_are_made_once_a_day(tmp_path, monkeypatch):
    house = House(tmp_path, monkeypatch)
    made = []

    def make(site, name, today):
        made.append((name, today))
        return SimpleNamespace(content=b"x")

    monkeypatch.setattr(module, "made_file", make)
    for _ in range(3):
        house.pages.file("card.html")
    house.now += np.timedelta64(1, "D")
    house.pages.file("card.html")
    assert [str(today) for _, today in made] == ["2027-03-10", "2027-03-11"]
    assert Path(house.diary.path).parent == tmp_path


def test_a_file_in_the_door_that_changes_is_told_at_once(tmp_path, monkeypatch):
    text = f'{HOUSE}[door]\nin_use = "door.bin"\n'
    house = House(tmp_path, monkeypatch, text)
    house.pages.page(READER)
    assert "What is due cannot be told" in house.page().text
    plan = make_plan(read_site(HOUSE, "hens.toml"), dt.date(2027, 1, 1), dt.date(2027, 12, 31))
    (tmp_path / "door.bin").write_bytes(encode(plan))
    assert "The door should be open until 19:24" in house.page().text


def test_a_tap_of_long_ago_is_not_undone_here(tmp_path, monkeypatch):
    house = House(tmp_path, monkeypatch)
    fields = {"what": "all_in", "value": "", "tap": "0" * 32, "ago": "0"}
    tapped, _ = house.pages.note(house.pages.read(fields, "Jo"))
    house.now += np.timedelta64(49, "h")
    assert "tapped long ago" in house.pages.undo(tapped.noted.number)
    assert len(house.diary.entries()) == 1


def test_who_is_not_at_the_computer_is_told_no_file_of_it(tmp_path, monkeypatch):
    house = House(tmp_path, monkeypatch)
    alarm = Alarm("token", "doubt diary", Kind.IN_DOUBT, f"{tmp_path}/x: is damaged", house.now)
    house.watcher.state = State(alarms=(alarm,), past=(alarm,), looked_utc=house.now)
    guest = PageReader(house.pages.page(READER).decode()).text
    keeper = PageReader(house.pages.page(READER._replace(is_here=True)).decode()).text
    assert str(tmp_path) not in guest
    assert "The keeper can say why" in guest
    assert str(tmp_path) in keeper


def test_where_the_days_behind_have_no_plan_now_may_have_one(tmp_path, monkeypatch):
    text = HOUSE.replace("52.1", "85.0")
    house = House(tmp_path, monkeypatch, text)
    days = 0
    for day in range(60):
        house.now = np.datetime64("2027-09-15T12:00:00") + np.timedelta64(day, "D")
        try:
            moment = moment_at(due_of(days_around(house.source.site, house.now)), house.now)
        except DaylatchError:
            continue
        days += 1
        assert f"The door should be {moment.state}" in house.page().text, house.now
    assert 5 < days < 60
