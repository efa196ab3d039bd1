"""The page at home without a script: shown, noted on and undone by its forms alone."""

from __future__ import annotations

import contextlib
import json
import sqlite3
from urllib.parse import urlencode

import pytest

from peers.home_process import SITE, Home, running_home
from peers.page_reader import PageReader
from sites import HOUSE, ID

NOON = "2026-11-26T12:00:00"
BASE = f"/house/{ID}"
# Without an address for phones nobody but this computer asks.
LOCAL = SITE.replace('url = "https://hens.example.org"\n', "")
AWAY = '[[span]]\nfrom = 2026-12-20\nuntil = 2026-12-28\naway = true\nsitter = "Mo"\n'
FORM = {"Content-Type": "application/x-www-form-urlencoded"}
AS_SCRIPT = FORM | {"Accept": "application/json"}


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    made = Home(tmp_path_factory.mktemp("page"), LOCAL + AWAY)
    made.clock.set(NOON)
    with pytest.MonkeyPatch.context() as patch:
        # A picture takes longer where other tests run at the same time.
        patch.setenv("LONGEST_S", "20")
        with running_home(made):
            yield made


@pytest.fixture
def fresh(tmp_path):
    """A home of the test's own, whose clock it may put on."""
    made = Home(tmp_path, LOCAL)
    made.clock.set(NOON)
    with running_home(made):
        yield made


def page_of(home, path=BASE):
    status, text = home.ask(path)
    assert status == 200, text
    return PageReader(text)


def send(home, form, headers=FORM, **more):
    return home.ask(form.action, urlencode(form.fields | more).encode(), headers)


def noted(home):
    return [(one.what, one.value, one.by) for one in home.entries()]


def test_the_start_leads_to_the_page(home):
    assert page_of(home, "/").text == page_of(home).text


def test_it_says_what_is_due_and_what_was_said(home):
    home.report(1, "opened")
    home.until(lambda: "It last said: door opened" in page_of(home).text)
    text = page_of(home).text
    assert "The door should be open until 17:29." in text
    assert "Thursday 26 November 2026, 13:00" in text
    assert "This evening: count heads at 17:44." in text
    assert "The week to come" in text
    assert "A schedule does not see the birds" in text


def test_every_button_notes_or_undoes_and_none_moves_the_door(home):
    page = page_of(home)
    assert {form.action for form in page.forms} <= {f"{BASE}/note", f"{BASE}/undo"}
    assert "Nothing here moves the door." in page.text


@pytest.mark.parametrize(
    ("button", "entry"),
    [
        ("All in", ("all_in", "")),
        ("2 still out", ("still_out", "2")),
        ("I shut it by hand", ("shut_by_hand", "")),
        ("Last one in just now", ("last_in", "")),
        ("None waiting yet", ("none_waiting", "")),
        ("Some are waiting", ("waiting", "")),
        ("First one out just now", ("first_out", "")),
        ("I opened it by hand", ("opened_by_hand", "")),
    ],
)
def test_every_tap_is_noted_and_undone(home, button, entry):
    before = noted(home)
    status, text = send(home, page_of(home).form(button))
    assert status == 200
    assert noted(home) == [*before, (*entry, "keeper")]
    page = PageReader(text)
    assert "Noted:" in page.text
    status, text = send(home, page.form("Undo"))
    assert status == 200
    assert "Undone:" in PageReader(text).text
    assert noted(home) == before


def test_a_count_that_no_button_has_is_typed(home):
    before = noted(home)
    page = page_of(home)
    assert send(home, page.form("Note it"), value="7")[0] == 200
    assert noted(home) == [*before, ("still_out", "7", "keeper")]
    status, text = send(home, page_of(home).form("Note it"), value="many")
    assert status == 422
    assert "write how many birds" in PageReader(text).text


def test_a_form_that_is_sent_twice_is_noted_once(home):
    before = noted(home)
    form = page_of(home).form("3 still out")
    for _ in range(3):
        assert send(home, form)[0] == 200
    assert len(noted(home)) == len(before) + 1
    assert send(home, page_of(home).form("3 still out"))[0] == 200
    assert len(noted(home)) == len(before) + 2


def test_what_was_undone_can_be_noted_again_at_once(home):
    before = noted(home)
    page = page_of(home)
    for _ in range(3):
        _, text = send(home, page_of(home).form("Last one in just now"))
        assert len(noted(home)) == len(before) + 1
        assert send(home, PageReader(text).form("Undo"))[0] == 200
        assert noted(home) == before
    # One that goes back in the browser is asked.
    form = page.form("1 still out")
    _, text = send(home, form)
    send(home, PageReader(text).form("Undo"))
    status, text = send(home, form)
    assert status == 409
    assert "so it has not been noted again" in PageReader(text).text
    assert send(home, PageReader(text).forms[0])[0] == 200
    assert len(noted(home)) == len(before) + 1


def test_a_diary_that_is_gone_is_not_begun_anew_by_a_tap_or_a_report(fresh):
    fresh.report(1, "opened")
    fresh.until(lambda: fresh.state()["had_diary"])
    for name in ("hens.diary", "hens.diary-wal", "hens.diary-shm"):
        (fresh.folder / name).unlink(missing_ok=True)
    assert send(fresh, page_of(fresh).form("All in"))[0] == 503
    assert fresh.report(2, "shut")[0] == 503
    assert not (fresh.folder / "hens.diary").exists()
    fresh.until(lambda: "it was there, and is gone" in page_of(fresh).text)


def test_what_two_phones_undo_at_once_is_undone_once(home):
    _, text = send(home, page_of(home).form("1 still out"))
    undo = PageReader(text).form("Undo")
    first, second = (json.loads(send(home, undo, AS_SCRIPT)[1])["said"] for _ in range(2))
    assert first.startswith("Undone: 1 still out")
    assert second.startswith("That was undone already: 1 still out")


def test_what_was_not_tapped_cannot_be_undone_here(home):
    number = home.report(700, "shut")[1]["entry"]
    undo = page_of(home).form("All in")._replace(action=f"{BASE}/undo")
    said = json.loads(send(home, undo, AS_SCRIPT, entry=str(number))[1])["said"]
    assert "`daylatch diary undo`" in said
    assert home.run("diary", "show", "hens.toml").stdout.count("undone") == 0


def test_a_form_of_a_strangers_page_is_asked_about_and_nothing_is_noted(home):
    before = noted(home)
    form = page_of(home).form("All in")
    for wrong in (
        {"fields": form.fields | {"token": "0" * 64}},
        {"headers": {"Origin": "https://evil.example.org"}},
        {"headers": {"Sec-Fetch-Site": "cross-site"}},
    ):
        headers = FORM | wrong.get("headers", {})
        status, text = send(home, form._replace(fields=wrong.get("fields", form.fields)), headers)
        assert status == 403
        page = PageReader(text)
        assert "Was that you?" in page.text
        assert "Nothing has been noted yet." in page.text
        assert noted(home) == before
    # Whoever it was can say so, and nothing is lost.
    assert send(home, page.forms[0])[0] == 200
    assert noted(home) == [*before, ("all_in", "", "keeper")]


def test_a_page_of_before_a_restart_still_notes(fresh):
    form = page_of(fresh).form("All in")
    fresh.stop()
    fresh.start()
    assert send(fresh, form)[0] == 200
    assert noted(fresh) == [("all_in", "", "keeper")]


def test_a_page_of_yesterday_is_asked_whether_it_speaks_of_now(fresh):
    form = page_of(fresh).form("All in")
    fresh.go_to("2026-11-27T06:00:00")
    status, text = send(fresh, form)
    page = PageReader(text)
    assert status == 409
    assert "The page was opened hours ago, so nothing has been noted yet." in page.text
    assert noted(fresh) == []
    (again,) = page.forms
    assert again.words.startswith("Note: All in, 07:0")
    assert send(fresh, again)[0] == 200
    assert noted(fresh) == [("all_in", "", "keeper")]


def test_a_tap_of_yesterday_that_waited_on_a_phone_is_noted_as_of_then(fresh):
    form = page_of(fresh).form("All in")
    fresh.go_to("2026-11-27T06:00:00")
    status, text = send(fresh, form, AS_SCRIPT, ago=str(13 * 3600))
    assert status == 200
    assert json.loads(text)["said"].startswith("Noted: all in, 18:0")
    assert "yesterday" in json.loads(text)["said"]
    (entry,) = fresh.entries()
    assert str(entry.instant_utc).startswith("2026-11-26T17:0")


def test_a_diary_that_is_locked_loses_nothing(fresh):
    fresh.report(1, "opened")
    form = page_of(fresh).form("All in")
    with contextlib.closing(sqlite3.connect(fresh.folder / "hens.diary")) as other:
        other.execute("BEGIN IMMEDIATE")
        status, text = send(fresh, form)
        page = PageReader(text)
        assert status == 503
        assert "Nothing is lost: send it again." in page.text
        assert "hens.diary" not in text
        status, answer = send(fresh, form, AS_SCRIPT)
        assert (status, "could not be written" in json.loads(answer)["said"]) == (503, True)
        # The page itself is still there.
        assert "The door should be" in page_of(fresh).text
        other.rollback()
    (again,) = page.forms
    assert send(fresh, again)[0] == 200
    assert [one for one in noted(fresh) if one[0] == "all_in"] == [("all_in", "", "keeper")]


def test_a_damaged_diary_leaves_a_page_that_says_so(fresh):
    fresh.report(1, "opened")
    for name in ("hens.diary", "hens.diary-wal"):
        path = fresh.folder / name
        if path.exists():
            path.write_bytes(b"this is no diary" * 500)
    text = page_of(fresh).text
    assert "The diary cannot be read just now" in text
    assert "The door should be open until 17:29." in text
    assert str(fresh.folder) not in text.split("What is wrong")[0]
    status, text = send(fresh, page_of(fresh).form("All in"))
    assert status == 503


@pytest.mark.parametrize(
    ("content", "status"),
    [
        (b"", 403),
        (b"\xff\xfe=%ff", 422),
        (b"a=1&" * 30, 422),
        (b"x" * 5000, 413),
        (b"token=&what=note&value=x", 403),
    ],
)
def test_what_is_no_form_of_the_page_is_answered_in_a_sentence(home, content, status):
    before = noted(home)
    for address in (f"{BASE}/note", f"{BASE}/undo"):
        got, text = home.ask(address, content, FORM)
        assert got == status, text
        assert PageReader(text).text
        assert "Traceback" not in home.log
    assert noted(home) == before


def test_the_papers_are_handed_out(home):
    page = page_of(home)
    assert page.links["Card of 2026"] == f"{BASE}/card-2026.html"
    assert page.links["Card of 2027"] == f"{BASE}/card-2027.html"
    assert "2026-12-20 to 2026-12-28 for Mo" in page.text
    for name, holds in (
        ("card-2027.html", "<title>"),
        ("sitter.html", "Mo"),
        ("calendar.ics", "BEGIN:VCALENDAR"),
        ("year.svg", "<svg "),
    ):
        status, text = home.ask(f"{BASE}/{name}")
        assert status == 200, text
        assert holds in text
    assert home.ask(f"{BASE}/secrets")[0] == 404
    assert home.ask(f"{BASE}/card-2028.html")[0] == 404
    assert home.ask(f"{BASE}/..%2fhens.toml")[0] in (403, 404)


def test_without_dates_away_there_is_no_sheet(fresh):
    page = page_of(fresh)
    assert "Sitter's sheet" not in page.links
    assert "no dates are known on which the keeper is away" in page.text
    assert fresh.ask(f"{BASE}/sitter.html")[0] == 404


def test_the_calendar_of_the_page_does_not_name_the_place(home):
    _, text = home.ask(f"{BASE}/calendar.ics")
    assert "52.1" not in text
    assert "Europe" not in text


@pytest.mark.parametrize("path", ["/house/nobody", f"/house/{ID}x", "/assets/../secrets", "/x"])
def test_nothing_else_is_there(home, path):
    assert home.ask(path)[0] in (403, 404, 429)


def test_what_was_seen_is_not_sent_again(home):
    import urllib.request  # noqa: PLC0415

    with urllib.request.urlopen(home.url + BASE, timeout=10) as answer:
        tag = answer.headers["ETag"]
        assert "no-cache" in answer.headers["Cache-Control"]
    status, text = home.ask(BASE, headers={"If-None-Match": tag})
    assert (status, text) in ((304, ""), (200, text))
    assert home.ask("/assets/home.css", headers={"If-None-Match": "W/x"})[0] == 200


def test_the_keepers_words_stand_on_the_page_as_they_are(tmp_path):
    hostile = '<script>alert(1)</script>"&{{ 7 * 7 }}'
    site = LOCAL.replace('name = "Test house"', f"name = '{hostile}'")
    home = Home(tmp_path, site)
    home.clock.set(NOON)
    with running_home(home):
        home.run("diary", "add", "hens.toml", "note " + hostile)
        status, text = home.ask(BASE)
        assert status == 200
        assert "<script>alert" not in text
        assert PageReader(text).text.count(hostile) >= 2


def test_several_houses_are_named(tmp_path):
    home = Home(tmp_path, LOCAL)
    home.clock.set(NOON)
    other = "7f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"
    ducks = HOUSE.replace(ID, other).replace("Test house", "Ducks")
    (tmp_path / "ducks.toml").write_text(ducks)
    command = home.command
    home.command = lambda *words: command(*words, *["ducks.toml"] * (words[0] == "home"))
    with running_home(home):
        home.until(lambda: "watching Ducks" in home.log)
        page = page_of(home, "/")
        is_so = "The door should be open until 17:29."
        assert page.links == {
            f"Test house: {is_so}": BASE,
            f"Ducks: {is_so}": f"/house/{other}",
        }
        assert "Ducks" in page_of(home, f"/house/{other}").text


def test_an_alarm_stands_on_the_page_and_its_history_stays(fresh):
    fresh.report(1, "opened")
    fresh.go_to("2026-11-26T16:46:00")
    page = page_of(fresh)
    assert "The door is not known to be shut" in page.text
    address = page.links["Say that you are looking after it"]
    assert fresh.ask(address)[0] == 200
    assert fresh.ask(address, b"")[0] == 200
    assert "The keeper is looking after it since 17:46." in page_of(fresh).text
    fresh.report(2, "shut")
    fresh.until(lambda: "None is remembered." not in page_of(fresh).text)
    page = page_of(fresh)
    assert "What is wrong" not in page.text.split("Alarms that are over")[0]
    assert "Say that you are looking after it" not in page.links
    assert "The door is not known to be shut" in page.text.split("Alarms that are over")[1]
    fresh.stop()
    fresh.start()
    assert "The door is not known to be shut" in page_of(fresh).text
