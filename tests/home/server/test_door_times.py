"""A networked door that asks a real home for its times, and what its token may not do."""

from __future__ import annotations

import contextlib
import datetime as dt
import http.client
import json
import threading
import time
from urllib.parse import urlsplit

import pytest

from daylatch.door.table.decode import decode
from daylatch.door.works.due import make_due
from daylatch.home.times.answer import answer_at
from daylatch.plan.plan import make_plan
from daylatch.site.reading.site_file import load_site, read_site
from home.times.test_answer import at, read
from peers.home_process import SITE, TOKEN, Home, running_home
from sites import ID

NOON = "2026-11-26T12:00:00"
PATHS = ("/times.json", "/table.bin")


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    made = Home(tmp_path_factory.mktemp("home"))
    made.clock.set(NOON)
    with running_home(made):
        yield made


def get(home, path, headers=None, *, token=TOKEN, method="GET", source="127.0.0.1"):
    """Return status, headers and bytes of an answer."""
    connection = http.client.HTTPConnection(
        "127.0.0.1", urlsplit(home.url).port, timeout=30, source_address=(source, 0)
    )
    with contextlib.closing(connection):
        bearer = {"Authorization": f"Bearer {token}"} if token else {}
        connection.request(method, path, headers=bearer | (headers or {}))
        answer = connection.getresponse()
        found = answer.status, answer.headers, answer.read()
    # A table takes longer to make than anybody waits for here.
    if found[0] == 503 and b"it is being made" in found[2]:
        assert found[1]["Retry-After"] == "60"
        time.sleep(0.2)
        return get(home, path, headers, token=token, method=method, source=source)
    return found


def test_the_times_are_those_of_the_site_file(home):
    status, headers, content = get(home, "/times.json")
    assert (status, headers["Content-Type"]) == (200, "application/json")
    assert content == answer_at(load_site(home.site), at(NOON), make_due).content
    assert read(content)["state"] == "open"
    assert headers["Cache-Control"] == "private, no-cache"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Content-Length"] == str(len(content))
    assert headers["Date"].startswith("Thu, 26 Nov 2026 12:0")
    assert len(headers.get_all("Date")) == 1


def test_the_table_is_that_of_thirteen_months(home):
    status, headers, content = get(home, "/table.bin")
    assert (status, headers["Content-Type"]) == (200, "application/octet-stream")
    table = decode(content)
    assert (str(table.first), str(table.last)) == ("2026-10-31", "2027-11-30")
    plan = make_plan(load_site(home.site), dt.date(2027, 6, 1), dt.date(2027, 6, 1))
    wall = plan.on_wall(plan.open_utc).wall[0].item()
    assert table.on(dt.date(2027, 6, 1))[0] == wall.hour * 60 + wall.minute


@pytest.mark.parametrize("path", PATHS)
def test_what_a_door_has_already_is_not_sent_again(home, path):
    tag = get(home, path)[1]["ETag"]
    assert tag[0] == tag[-1] == '"'
    for given in (tag, f"W/{tag}", f'"x", {tag}', "*"):
        status, headers, content = get(home, path, {"If-None-Match": given})
        assert (status, content, headers["ETag"]) == (304, b"", tag)
        assert headers["Cache-Control"] == "private, no-cache"
        assert headers["Date"].startswith("Thu, 26 Nov 2026 12:0")
    for given in ('"x"', tag.strip('"'), "", tag[:-2] + '"'):
        assert get(home, path, {"If-None-Match": given})[0] == 200


@pytest.mark.parametrize("path", PATHS)
def test_the_head_names_the_house(home, path):
    tag = get(home, path)[1]["ETag"]
    for more in ({}, {"method": "HEAD"}, {"headers": {"If-None-Match": tag}}):
        status, headers, _ = get(home, path, **more)
        assert status == (304 if "headers" in more else 200)
        assert headers.get_all("Daylatch-House") == [ID]
    # To whom it may concern, and nobody else.
    assert "Daylatch-House" not in get(home, path, token="x", source="127.0.0.5")[1]


@pytest.mark.parametrize("path", PATHS)
def test_asking_for_the_head_tells_size_and_tag(home, path):
    _, full, content = get(home, path)
    status, headers, nothing = get(home, path, method="HEAD")
    assert (status, nothing) == (200, b"")
    assert headers["ETag"] == full["ETag"]
    assert headers["Content-Length"] == str(len(content))


@pytest.mark.parametrize("path", PATHS)
def test_without_the_token_nothing_is_told(home, path):
    for token in ("", "x", TOKEN[:-1]):
        status, headers, content = get(home, path, token=token, source="127.0.0.5")
        assert (status, headers["WWW-Authenticate"]) == (401, "Bearer")
        assert json.loads(content) == {
            "error": "give the door's token as Authorization: Bearer ..."
        }
        assert "ETag" not in headers


def test_guesses_are_few_and_shared_with_those_of_reports(home):
    statuses = [
        get(home, PATHS[number % 2], token=f"guess{number}", source="127.0.0.6")[0]
        for number in range(14)
    ]
    assert statuses[:10] == [401] * 10
    assert statuses[-1] == 429
    assert get(home, "/report", token="guess", method="POST", source="127.0.0.6")[0] == 429
    # The door at the same address is told.
    assert get(home, "/times.json", source="127.0.0.6")[0] == 200


def test_the_token_reports_and_reads_the_two_and_nothing_else(home):
    allowed = {("/report", "POST"), *((path, one) for path in PATHS for one in ("GET", "HEAD"))}
    paths = (
        "/",
        *PATHS,
        "/report",
        "/alarm/x",
        "/times",
        "/table",
        "/site",
        "/diary",
        "/times.json/",
    )
    for path in paths:
        for method in ("GET", "HEAD", "POST", "PUT", "DELETE", "PATCH", "OPTIONS"):
            if (path, method) in allowed:
                continue
            status, headers, _ = get(home, path, method=method)
            assert status in (403, 404, 405, 307), (path, method, status)
            if status == 307:
                assert headers["Location"].endswith("/times.json")


def test_a_door_that_asks_too_often_waits_and_its_reports_come_in(tmp_path):
    home = Home(tmp_path)
    home.clock.set(NOON)
    with running_home(home):
        statuses = [get(home, "/times.json")[0] for _ in range(64)]
        assert statuses[:60] == [200] * 60
        assert statuses[-1] == 429
        assert get(home, "/times.json")[1]["Retry-After"] == "60"
        assert home.report(1, "opened")[0] == 200


def test_two_houses_have_their_own_times(tmp_path):
    home = Home(tmp_path)
    other = (
        SITE.replace("6f1c1d1e", "7f1c1d1e").replace("Test house", "Other").replace("52.1", "60")
    )
    (tmp_path / "other.toml").write_text(other)
    secrets = tmp_path / "other.secrets"
    secrets.touch(0o600)
    secrets.write_text('[door]\ntoken = "another-token-0123456789"\n')
    home.clock.set(NOON)
    command = home.command
    home.command = lambda *words: command(*words, *["other.toml"] * (words[0] == "home"))
    with running_home(home):
        one, two = (
            read(get(home, "/times.json", token=token)[2])
            for token in (TOKEN, "another-token-0123456789")
        )
    assert one["house"].startswith("6f1c")
    assert two["house"].startswith("7f1c")
    assert one["movements"] != two["movements"]
    assert (
        two["movements"]
        == read(answer_at(read_site(other, ""), at(NOON), make_due).content)["movements"]
    )


def test_the_answer_changes_with_movements_and_with_the_site_file_and_not_between(tmp_path):
    home = Home(tmp_path)
    home.clock.set("2026-11-26T07:00:00")
    with running_home(home):
        tag = get(home, "/times.json")[1]["ETag"]
        table = get(home, "/table.bin")[1]["ETag"]
        home.clock.set("2026-11-26T16:28:00")
        assert get(home, "/times.json", {"If-None-Match": tag})[0] == 304
        home.clock.set("2026-11-26T16:35:00")
        status, headers, content = get(home, "/times.json", {"If-None-Match": tag})
        assert (status, read(content)["state"]) == (200, "shut")
        assert headers["ETag"] != tag
        home.clock.set("2026-11-30T12:00:00")
        assert get(home, "/table.bin", {"If-None-Match": table})[0] == 304
        home.clock.set("2026-12-01T12:00:00")
        assert get(home, "/table.bin", {"If-None-Match": table})[0] == 200
        before = get(home, "/times.json")[2]
        home.site.write_text(f"{home.site.read_text()}[close]\noffset_min = 30\n")
        home.until(lambda: get(home, "/times.json")[2] != before)
        # A slip in the file: what stood there holds, as for the watch.
        changed = get(home, "/times.json")[2]
        home.site.write_text(home.site.read_text().replace("= 30", '= "thirty"'))
        time.sleep(0.5)
        assert get(home, "/times.json")[2] == changed


def test_the_file_in_the_door_is_read_again_when_it_changes(tmp_path):
    home = Home(tmp_path, f'{SITE}[door]\nin_use = "door.bin"\n')
    home.clock.set(NOON)
    plain = tmp_path / "plain.toml"
    plain.write_text(SITE)
    made = home.run("plan", "plain.toml", "--year", "2026", "--to", "table", "-o", "door.bin")
    assert made.returncode == 0, made.stderr
    with running_home(home):
        told = read(get(home, "/times.json")[2])
        assert {move["known"] for move in told["movements"]} == {True}
        dates = ("--from", "2026-11-01", "--until", "2026-11-30")
        again = home.run("plan", "plain.toml", *dates, "--to", "table", "-o", "door.bin")
        assert again.returncode == 0, again.stderr
        told = read(get(home, "/times.json")[2])
        assert {move["known"] for move in told["movements"]} == {True, False}
        (tmp_path / "door.bin").write_bytes(b"none")
        status, headers, content = get(home, "/times.json")
        assert (status, headers["Retry-After"]) == (503, "60")
        error = json.loads(content)["error"]
        assert error.startswith("what is due cannot be told")
        assert "door.bin" not in error
        home.until(lambda: "door.bin" in home.log)
        # The table is that of the plan, whatever is in the door.
        assert get(home, "/table.bin")[0] == 200


def test_by_a_clock_of_long_ago_nothing_is_told(tmp_path):
    home = Home(tmp_path)
    home.clock.set("1970-01-01T00:05:00")
    with running_home(home):
        for path in PATHS:
            status, _, content = get(home, path)
            assert status == 503
            assert json.loads(content) == {
                "error": "the clock of this computer is wrong, so that no times are told until it "
                "is set"
            }
        home.clock.set(NOON)
        assert get(home, "/times.json")[0] == 200


def test_where_there_is_no_plan_nothing_is_told(tmp_path):
    home = Home(tmp_path, SITE.replace("52.1", "69.6"))
    home.clock.set("2027-06-20T12:00:00")
    with running_home(home):
        for path in PATHS:
            status, _, content = get(home, path)
            assert status == 503
            assert "hens" not in json.loads(content)["error"]
        home.until(lambda: "fallback" in home.log)


def test_reports_and_times_do_not_wait_for_a_table(tmp_path):
    home = Home(tmp_path)
    home.clock.set(NOON)
    with running_home(home):
        get(home, "/times.json")
        answers = []
        asking = [
            threading.Thread(target=lambda: answers.append(get(home, "/table.bin")[0]))
            for _ in range(5)
        ]
        for one in asking:
            one.start()
        waited = []
        number = 0
        while any(one.is_alive() for one in asking):
            number += 1
            began = time.monotonic()
            assert home.report(number, "battery_v", value=12)[0] in (200, 429)
            assert get(home, "/times.json", {"If-None-Match": "*"})[0] in (304, 429)
            waited.append(time.monotonic() - began)
            time.sleep(0.1)
        assert answers == [200] * 5
        # It took long enough to have been in their way.
        assert number > 5
        assert sorted(waited)[len(waited) // 2] < 0.5, waited
