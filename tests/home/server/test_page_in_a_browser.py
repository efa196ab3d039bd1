"""The page at home in a real browser: by the run, without a connection, and on two phones."""

from __future__ import annotations

import contextlib
import re
import sqlite3
import time
from collections import Counter
from urllib.parse import urlsplit

import pytest

from peers.browser import faults, needs_chromium, visiting
from peers.certificate import make_certificate
from peers.home_process import SITE, Home, running_home
from programs import needs
from sites import ID

NOON = "2026-11-26T12:00:00"
BASE = f"/house/{ID}"
LOCAL = SITE.replace('url = "https://hens.example.org"\n', "")
PHONE = {"viewport": {"width": 360, "height": 740}}
# A worker that takes the page over can ask where a route of the page does not see it.
ROUTED = {"service_workers": "block", **PHONE}
NO_WORKER = ("warning: Service Worker registration blocked",)
DESK = {"viewport": {"width": 1280, "height": 900}}
# The last is of the worker's script, if it is being asked for just then.
NO_CONNECTION = (
    "error: Failed to load resource: net::ERR_",
    "error: An unknown error occurred when fetching the script.",
)
REFUSED = ("error: Failed to load resource: the server responded with a status of 40",)
REFUSED_LATER = ("error: Failed to load resource: the server responded with a status of 503",)
MOST_BYTES = 60_000
IS_KEPT = "navigator.serviceWorker.getRegistration().then(one => !!(one && one.active))"
# The worker's script is asked for by the browser itself, which a context cannot make trust it.
TRUSTING = ("--ignore-certificate-errors",)

pytestmark = needs_chromium


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    made = Home(tmp_path_factory.mktemp("page"), LOCAL)
    made.clock.set(NOON)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LONGEST_S", "20")
        with running_home(made):
            yield made


def noted(home):
    return Counter((one.what, one.value) for one in home.entries())


def until(page, holds, seconds=10):
    """Wait until something holds, while the browser goes on."""
    end = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end
        page.wait_for_timeout(50)


def tap(page, words):
    page.get_by_role("button", name=words, exact=True).click()


def scroll_to(page, name):
    """Scroll in one step, since a part can be renewed at any moment."""
    page.evaluate(f"document.getElementById('{name}').scrollIntoView()")


def said(page, words):
    page.locator("#said").get_by_text(words).wait_for()


@pytest.mark.parametrize("scripts", [True, False])
@pytest.mark.parametrize(
    ("button", "entry", "words"),
    [
        ("All in", ("all_in", ""), "Noted: all in, 13:0"),
        ("2 still out", ("still_out", "2"), "Noted: 2 still out, 13:0"),
        ("I shut it by hand", ("shut_by_hand", ""), "Noted: door shut by hand, 13:0"),
        ("Last one in just now", ("last_in", ""), "Noted: last bird in, 13:0"),
        ("None waiting yet", ("none_waiting", ""), "Noted: none waiting, 13:0"),
        ("Some are waiting", ("waiting", ""), "Noted: birds waiting, 13:0"),
        ("First one out just now", ("first_out", ""), "Noted: first bird out, 13:0"),
        ("I opened it by hand", ("opened_by_hand", ""), "Noted: door opened by hand, 13:0"),
    ],
)
def test_every_tap_and_its_undo(home, scripts, button, entry, words):
    home.clock.set(NOON)
    before = noted(home)
    with visiting(home.url, java_script_enabled=scripts, **PHONE) as page:
        page.goto(home.url)
        tap(page, button)
        said(page, words)
        assert noted(home) == before + Counter([entry])
        page.locator("#said").get_by_role("button").click()
        said(page, "Undone: ")
        assert noted(home) == before


def test_the_page_brings_itself_up_to_date_and_two_phones_see_the_same(home):
    home.clock.set(NOON)
    with (
        visiting(home.url, **PHONE) as one,
        visiting(home.url, **PHONE) as other,
    ):
        one.goto(home.url)
        other.goto(home.url)
        tap(one, "3 still out")
        said(one, "Noted: 3 still out")
        # A page that comes to the front looks at once; else it does so three times a minute.
        other.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
        other.locator(".noted").get_by_text("3 still out").first.wait_for()
        undo = one.locator(".noted").get_by_role("button").first
        name = undo.get_attribute("aria-label")
        same = other.locator(".noted").get_by_role("button", name=name)
        undo.click()
        said(one, "Undone: 3 still out")
        same.click()
        said(other, "That was undone already: 3 still out")


def test_what_is_tapped_without_a_connection_is_sent_later_once_with_its_moment(home):
    home.clock.set(NOON)
    before = noted(home)
    with visiting(home.url, expected=NO_CONNECTION, **PHONE) as page:
        page.goto(home.url)
        page.context.set_offline(True)
        tap(page, "All in")
        page.locator("#waiting").get_by_text("All in, tapped just now").wait_for()
        page.locator("#link").get_by_text("No connection: what stands here is of 13:0").wait_for()
        tap(page, "2 still out")
        tap(page, "1 still out")
        waiting = page.locator("#waiting li")
        assert waiting.count() == 3
        waiting.nth(1).get_by_role("button", name="Undo").click()
        said(page, "Not noted: 2 still out")
        assert noted(home) == before
        time.sleep(3)
        arrived = home.clock.now().replace(tzinfo=None).isoformat()
        page.context.set_offline(False)
        said(page, "Noted: 1 still out")
        page.locator("#waiting").wait_for(state="hidden")
        assert noted(home) == before + Counter([("all_in", ""), ("still_out", "1")])
        # They are of the tap, and not of their arrival.
        assert max(str(one.instant_utc) for one in home.entries()) < arrived
        page.locator("#link").get_by_text("No connection").wait_for(state="hidden")


def test_a_tap_whose_answer_is_lost_is_noted_once(home):
    home.clock.set(NOON)
    before = noted(home)
    with visiting(home.url, expected=(*NO_CONNECTION, *NO_WORKER), **ROUTED) as page:
        page.goto(home.url)
        lost = []

        def lose(route):
            if lost:
                route.continue_()
                return
            lost.append(route.fetch().status)
            route.abort("connectionreset")

        page.route("**/note", lose)
        tap(page, "Last one in just now")
        until(page, lambda: lost)
        page.locator("#waiting").get_by_role("button", name="Undo").wait_for()
        assert lost == [200]
        page.evaluate("window.dispatchEvent(new Event('online'))")
        said(page, "That was noted already: last bird in")
        assert noted(home) == before + Counter([("last_in", "")])


def test_taps_outlive_the_page_and_a_reload_without_a_connection(home):
    home.clock.set(NOON)
    before = noted(home)
    with visiting(home.url, expected=NO_CONNECTION, **PHONE) as page:
        page.goto(home.url)
        until(page, lambda: page.evaluate(IS_KEPT))
        page.reload()
        page.context.set_offline(True)
        tap(page, "All in")
        page.locator("#waiting li").wait_for()
        page.reload()
        page.locator("#waiting").get_by_text("All in, tapped just now").wait_for()
        assert "The door should be" in page.locator("h2.big").inner_text()
        page.locator("#link").get_by_text("No connection").wait_for()
        page.context.set_offline(False)
        page.locator("#waiting").wait_for(state="hidden")
        assert noted(home) == before + Counter([("all_in", "")])


def test_a_page_that_stays_open_over_a_restart_goes_on(tmp_path):
    from peers.mosquitto import free_port  # noqa: PLC0415

    made = Home(tmp_path, LOCAL.replace("port = 0", f"port = {free_port()}"))
    made.clock.set(NOON)
    with running_home(made), visiting(made.url, expected=NO_CONNECTION, **PHONE) as page:
        page.goto(made.url)
        made.stop()
        tap(page, "All in")
        page.locator("#waiting li").wait_for()
        made.start()
        page.evaluate("window.dispatchEvent(new Event('online'))")
        said(page, "Noted: all in")
        assert noted(made) == Counter([("all_in", "")])


@pytest.mark.parametrize("screen", [PHONE, DESK], ids=["phone", "desk"])
def test_the_first_view_is_light_and_nothing_is_asked_for_elsewhere(tmp_path, screen):
    home = Home(tmp_path, LOCAL)
    home.clock.set("2026-11-19T12:00:00")
    with running_home(home):
        for day in range(8):
            for hour, what in ((6, "opened"), (16, "shut"), (17, "seen_shut")):
                at = f"2026-11-{12 + day}T{hour:02}:40:00Z"
                home.report(100 * day + hour, what, at=at)
        home.go_to(NOON)
        with visiting(home.url, **screen) as page:
            sizes = []
            page.on("response", lambda one: sizes.append(one.request.sizes()["responseBodySize"]))
            page.goto(home.url, wait_until="networkidle")
            assert 15_000 < sum(size for size in sizes if size > 0) < MOST_BYTES


@needs("npm")
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("screen", [PHONE, DESK], ids=["phone", "desk"])
def test_those_who_cannot_see_or_point_are_told_all(home, screen, scheme):
    with visiting(home.url, color_scheme=scheme, **screen) as page:
        page.goto(home.url)
        tap(page, "All in")
        said(page, "Noted")
        assert faults(page) == []
        # Nothing is cut off, and nothing must be moved aside to be read.
        width = page.evaluate("document.documentElement.scrollWidth")
        assert width <= screen["viewport"]["width"]
        small = page.evaluate(
            "[...document.querySelectorAll('button, input[type=number]')].filter(one => "
            "one.getBoundingClientRect().height < 24 || one.getBoundingClientRect().width < 24)"
            ".map(one => one.outerHTML)"
        )
        assert small == []


def test_all_of_it_can_be_done_by_keyboard(home):
    home.clock.set(NOON)
    before = noted(home)
    with visiting(home.url, **DESK) as page:
        page.goto(home.url)
        for _ in range(40):
            page.keyboard.press("Tab")
            if page.evaluate("document.activeElement.id") == "tap-all_in":
                break
        outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert outline == "solid"
        page.keyboard.press("Enter")
        said(page, "Noted: all in")
        assert noted(home) == before + Counter([("all_in", "")])
        page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
        time.sleep(0.5)
        assert page.evaluate("document.activeElement.id") == "tap-all_in"


def test_what_is_printed_has_no_buttons(home):
    with visiting(home.url, **DESK) as page:
        page.goto(home.url)
        page.emulate_media(media="print")
        assert not page.get_by_role("button", name="All in", exact=True).is_visible()
        assert page.locator("h2.big").is_visible()
        assert page.locator("svg.band").is_visible()


def test_the_picture_of_the_year_is_there_once_it_is_looked_at(home):
    with visiting(home.url, **PHONE) as page:
        page.goto(home.url)
        scroll_to(page, "h-year")
        image = "document.querySelector('img')"
        until(page, lambda: page.evaluate(f"{image}.complete && {image}.naturalWidth > 0"), 20)


def test_its_address_is_told_to_nobody(home):
    with visiting(home.url, **PHONE) as page:
        answer = page.goto(home.url)
        headers = answer.all_headers()
        assert headers["referrer-policy"] == "no-referrer"
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert urlsplit(page.url).query == ""


def join(page, home, name, *more):
    """Invite somebody, and let them come in; return the link's path."""
    done = home.run("home", "hens.toml", "--invite", name, *more)
    assert done.returncode == 0, done.stderr
    path = urlsplit(re.search(r"https://\S+/join/\S+", done.stdout)[0]).path
    page.goto(home.url + path)
    tap(page, "Come in")
    page.locator("h2.big").wait_for()
    # Until its script has run, a tap is a form's own.
    page.wait_for_load_state()
    return path


def test_a_guest_comes_in_by_a_link_notes_under_their_name_and_is_revoked(tmp_path):
    home = Home(tmp_path, SITE)
    home.clock.set(NOON)
    with running_home(home), visiting(home.url, expected=REFUSED, **PHONE) as page:
        assert page.goto(home.url).status == 403
        path = join(page, home, "Jo's phone")
        (cookie,) = page.context.cookies()
        assert (cookie["httpOnly"], cookie["sameSite"], cookie["secure"]) == (True, "Lax", False)
        assert cookie["value"] not in page.content()
        tap(page, "All in")
        said(page, "Noted: all in (told by Jo's phone)")
        assert [one.by for one in home.entries()] == ["Jo's phone"]
        with visiting(home.url, expected=REFUSED, **PHONE) as other:
            # The link has been used.
            assert other.goto(home.url + path).status == 404
        home.run("home", "hens.toml", "--guests", "--revoke", "Jo's phone")
        tap(page, "2 still out")
        page.locator("#waiting").get_by_text("You need an invitation").wait_for()
        assert len(home.entries()) == 1
        for secret in (cookie["value"], path.rpartition("/")[2]):
            assert secret not in home.log
            assert secret not in (tmp_path / "hens.guests").read_text()


def test_a_guest_who_reads_has_nothing_to_press(tmp_path):
    home = Home(tmp_path, SITE)
    home.clock.set(NOON)
    with running_home(home), visiting(home.url, expected=REFUSED, **PHONE) as page:
        join(page, home, "Gran", "--only-reads")
        assert page.get_by_role("button").count() == 0
        assert "To note something, ask the keeper" in page.locator("#page").inner_text()
        token = page.evaluate("document.body.dataset.token")
        status = page.evaluate(
            "([base, token]) => fetch(`${base}/note`, {method: 'POST', body: new URLSearchParams("
            "{token, what: 'all_in', value: '', tap: '0'.repeat(32)})}).then(one => one.status)",
            [page.evaluate("document.body.dataset.base"), token],
        )
        assert status == 403
        assert home.entries() == []


def test_encrypted_the_page_outlives_a_reload_without_a_connection(tmp_path):
    make_certificate(tmp_path)
    site = SITE.replace("port = 0\n", 'port = 0\ncertificate = "hens.pem"\nkey = "hens.key"\n')
    home = Home(tmp_path, site)
    home.clock.set(NOON)
    with (
        running_home(home),
        visiting(home.url, expected=NO_CONNECTION, flags=TRUSTING, **PHONE) as page,
    ):
        join(page, home, "Jo")
        (cookie,) = page.context.cookies()
        assert (cookie["httpOnly"], cookie["sameSite"], cookie["secure"]) == (True, "Lax", True)
        until(page, lambda: page.evaluate(IS_KEPT))
        page.reload()
        page.context.set_offline(True)
        tap(page, "All in")
        page.locator("#waiting li").wait_for()
        page.reload()
        page.locator("#waiting").get_by_text("All in, tapped just now").wait_for()
        page.context.set_offline(False)
        page.locator("#waiting").wait_for(state="hidden")
        assert noted(home) == Counter([("all_in", "")])


def test_what_answers_in_place_of_the_home_has_noted_nothing(home):
    home.clock.set(NOON)
    before = noted(home)
    with visiting(home.url, expected=NO_WORKER, **ROUTED) as page:
        page.goto(home.url)
        page.route("**/note", lambda route: route.fulfill(body="<h1>Log in to this network</h1>"))
        tap(page, "All in")
        page.locator("#waiting").get_by_role("button", name="Undo").wait_for()
        assert page.locator("#waiting li").count() == 1
        page.unroute("**/note")
        page.evaluate("window.dispatchEvent(new Event('online'))")
        said(page, "Noted: all in")
        assert noted(home) == before + Counter([("all_in", "")])


def test_a_diary_that_is_locked_keeps_the_tap_waiting(home):
    home.clock.set(NOON)
    home.report(1000, "opened")
    before = noted(home)
    with (
        visiting(home.url, expected=REFUSED_LATER, **PHONE) as page,
        contextlib.closing(sqlite3.connect(home.folder / "hens.diary")) as other,
    ):
        page.goto(home.url)
        other.execute("BEGIN IMMEDIATE")
        tap(page, "All in")
        page.locator("#waiting").get_by_text("It is not noted yet").wait_for()
        other.rollback()
        page.evaluate("window.dispatchEvent(new Event('online'))")
        said(page, "Noted: all in")
        assert noted(home) == before + Counter([("all_in", "")])


@pytest.mark.parametrize("broken", ["{", "[1, null]", '{"a": 1}', '[{"key": "x"}]'])
def test_what_stands_in_the_phones_memory_hinders_nothing(home, broken):
    home.clock.set(NOON)
    before = noted(home)
    with visiting(home.url, expected=REFUSED, **PHONE) as page:
        page.goto(home.url)
        page.evaluate(
            "([key, text]) => localStorage.setItem(key, text)", [f"daylatch taps {ID}", broken]
        )
        page.reload()
        tap(page, "All in")
        said(page, "Noted: all in")
        assert noted(home) == before + Counter([("all_in", "")])


def test_where_a_phone_keeps_nothing_taps_wait_in_the_page(home):
    home.clock.set(NOON)
    before = noted(home)
    with visiting(home.url, expected=NO_CONNECTION, **PHONE) as page:
        page.add_init_script("Storage.prototype.setItem = () => { throw new Error('full'); }")
        page.goto(home.url)
        page.context.set_offline(True)
        tap(page, "All in")
        tap(page, "1 still out")
        until(page, lambda: page.locator("#waiting li").count() == 2)
        page.context.set_offline(False)
        page.locator("#waiting").wait_for(state="hidden")
        assert noted(home) == before + Counter([("all_in", ""), ("still_out", "1")])


def test_a_tap_whose_answer_is_lost_is_undone_in_the_diary_and_not_only_on_the_phone(home):
    home.clock.set(NOON)
    before = noted(home)
    with visiting(home.url, expected=(*NO_CONNECTION, *NO_WORKER), **ROUTED) as page:
        page.goto(home.url)

        def lose(route):
            route.fetch()
            route.abort("connectionreset")

        page.route("**/note", lose)
        tap(page, "All in")
        page.locator("#waiting").get_by_role("button", name="Undo").wait_for()
        assert noted(home) == before + Counter([("all_in", "")])
        page.unroute("**/note")
        page.locator("#waiting").get_by_role("button", name="Undo").click()
        said(page, "Undone: all in")
        assert noted(home) == before
        page.locator("#waiting").wait_for(state="hidden")


def test_a_page_that_was_refused_shows_nothing_and_comes_back(tmp_path):
    made = Home(tmp_path, SITE)
    made.clock.set(NOON)
    expected = REFUSED + NO_CONNECTION
    with running_home(made), visiting(made.url, expected=expected, **PHONE) as page:
        join(page, made, "Jo")
        # Tapped before: a page that looks after the change takes its buttons away.
        page.context.set_offline(True)
        tap(page, "All in")
        page.locator("#waiting li").wait_for()
        guests = tmp_path / "hens.guests"
        guests.chmod(0o644)
        looked = []
        page.on("requestfinished", lambda one: looked.append(one) if one.method == "GET" else None)
        page.context.set_offline(False)
        page.locator("#waiting").get_by_text("You need an invitation").wait_for()
        until(page, lambda: page.locator("#page").inner_text() == "")
        # It looks once more, and what comes of that takes away what was said.
        until(page, lambda: sum(one.response().status == 403 for one in looked) == 2)
        guests.chmod(0o600)
        page.evaluate("window.dispatchEvent(new Event('online'))")
        said(page, "Noted: all in")
        page.locator("h2.big").wait_for()
        assert noted(made) == Counter([("all_in", "")])


def test_what_was_said_goes_once_it_is_undone_elsewhere(home):
    home.clock.set(NOON)
    with visiting(home.url, **PHONE) as one, visiting(home.url, **PHONE) as other:
        one.goto(home.url)
        tap(one, "3 still out")
        said(one, "Noted: 3 still out")
        other.goto(home.url)
        other.locator(".noted").get_by_role("button", name="Undo: 3 still out").first.click()
        said(other, "Undone: 3 still out")
        one.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
        until(one, lambda: one.locator("#said").inner_text() == "")


def test_a_number_that_is_being_written_stays_and_the_rest_is_renewed(home):
    home.clock.set(NOON)
    with visiting(home.url, **PHONE) as page:
        page.goto(home.url)
        page.get_by_label("More still out").fill("5")
        home.clock.set("2026-11-26T14:00:00")
        page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
        page.locator("header .time").get_by_text("15:0").wait_for()
        assert page.get_by_label("More still out").input_value() == "5"


def test_what_waits_is_said_where_it_is_seen(home):
    home.clock.set(NOON)
    with visiting(home.url, expected=NO_CONNECTION, **PHONE) as page:
        page.goto(home.url)
        page.context.set_offline(True)
        scroll_to(page, "tap-shut_by_hand")
        tap(page, "I shut it by hand")
        words = page.locator("#said").get_by_text("Kept on this phone, and not sent yet")
        words.wait_for()
        box = words.bounding_box()
        assert 0 <= box["y"] < PHONE["viewport"]["height"]
        page.locator("#waiting").get_by_role("button", name="Undo").click()
        said(page, "Not noted: I shut it by hand")


@needs("npm")
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_small_pages_tell_all_too_and_a_link_expires(tmp_path, scheme):
    home = Home(tmp_path, SITE)
    home.clock.set(NOON)
    context = {"color_scheme": scheme, **PHONE}
    with running_home(home), visiting(home.url, expected=REFUSED, **context) as page:
        home.report(1, "opened")
        done = home.run("home", "hens.toml", "--invite", "Jo")
        path = urlsplit(re.search(r"https://\S+/join/\S+", done.stdout)[0]).path
        assert page.goto(home.url).status == 403
        assert faults(page) == []
        assert page.goto(home.url + path).status == 200
        assert faults(page) == []
        home.go_to("2026-11-26T16:50:00")
        token = home.state()["alarms"][0]["token"]
        assert page.goto(f"{home.url}/alarm/{token}").status == 200
        assert faults(page) == []
        home.clock.set("2026-11-29T12:01:00")
        assert page.goto(home.url + path).status == 404
        assert "This link cannot be used" in page.content()
        assert faults(page) == []


@needs("npm")
def test_an_alarm_on_the_page_is_told_to_all_and_answered(tmp_path):
    home = Home(tmp_path, LOCAL)
    home.clock.set(NOON)
    with running_home(home), visiting(home.url, **PHONE) as page:
        home.report(1, "opened")
        home.go_to("2026-11-26T16:50:00")
        page.goto(home.url)
        assert page.title().startswith("Alarm: Test house")
        assert faults(page) == []
        page.get_by_role("link", name="Say that you are looking after it").click()
        tap(page, "I am looking after it")
        page.get_by_role("link", name="Back to the page").click()
        page.get_by_text("The keeper is looking after it since 17:5").wait_for()
        home.report(2, "shut")
        page.locator("#h-alarms").wait_for(state="detached")
        assert "(alarm at 17:5" in page.locator("#page").inner_text()
