"""The report: one page that needs nothing, read by a parser and by a real browser."""

from __future__ import annotations

import base64
import datetime as dt
import json
import re
import sys
from html.parser import HTMLParser
from itertools import pairwise
from xml.etree import ElementTree

import pypdfium2
import pytest

from conftest import ROOT
from peers.browser import needs_chromium, opened

HOSTILE = "<script>alert(1)</script> \"q\" 's' & $x^2$ {{ 7*7 }} \N{HATCHING CHICK} \u05d0\u05d1"


LAMP = '[laying]\nlamp = "morning"\n[laying.timer]\nstep_min = 15\n'
PAPERS = ("A4", "Letter")
IN_12_HOURS = '[writing]\nclock = "12h"\nunits = "us"\npaper = "letter"\n'
BY_12_HOURS = ["maple-hollow", "timer and lamp by 12 hours", "white nights by 12 hours"]
DUE_KEYS = ("open_due_local", "close_due_local")


class Reader(HTMLParser):
    """Gathers what a page is made of."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []
        self.open: list[str] = []
        self.tables: list[dict[str, object]] = []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self.open.append(tag)
        if tag == "table":
            self.tables.append({"class": dict(attrs).get("class"), "caption": "", "rows": []})
        if tag == "tr":
            self.tables[-1]["rows"].append([])
        if tag in ("td", "th"):
            self.tables[-1]["rows"][-1].append(["", int(dict(attrs).get("colspan") or 1)])

    def handle_endtag(self, tag):
        self.open = self.open[: len(self.open) - 1 - self.open[::-1].index(tag)]

    def handle_data(self, data):
        if "style" not in self.open:
            self.text.append(data)
        if "caption" in self.open:
            self.tables[-1]["caption"] += data
        if "td" in self.open or "th" in self.open:
            self.tables[-1]["rows"][-1][-1][0] += data

    def all(self, name: str) -> list[dict[str, str | None]]:
        return [attributes for tag, attributes in self.tags if tag == name]


def read(path) -> Reader:
    reader = Reader()
    reader.feed(path.read_text("utf-8"))
    return reader


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    """Return the reports of some sites, made once."""
    from daylatch.__main__ import run  # noqa: PLC0415

    folder = tmp_path_factory.mktemp("reports")
    in_use = "fjord-end-2027.bin"
    for beside in (in_use, "fjord-end-skyline.csv"):
        (folder / beside).write_bytes((ROOT / "schedules" / beside).read_bytes())
    texts = {
        name: (ROOT / f"schedules/{name}.toml").read_text() for name in ("alder-row", "fjord-end")
    }
    lines = (
        texts["alder-row"]
        .replace('"housing order (demo)"', json.dumps(HOSTILE, ensure_ascii=False))
        .splitlines()
    )
    given = {
        "name": json.dumps(HOSTILE, ensure_ascii=False),
        "notes": json.dumps(HOSTILE * 3, ensure_ascii=False),
    }
    lines = [
        f"{key} = {given[key]}" if (key := line.split(" ")[0]) in given else line for line in lines
    ]
    texts["hostile"] = "\n".join(lines)
    texts["bare"] = re.sub(r"\[flock\].*", "", texts["alder-row"], flags=re.S)
    texts["timer and lamp"] = (ROOT / "schedules/lagoon-hut.toml").read_text() + LAMP
    texts["white nights"] = texts["bare"].replace("51.72", "60.0").replace("0.41", "-150.0")
    texts["white nights"] = texts["white nights"].replace("Europe/London", "America/Anchorage")
    texts["white nights"] = texts["white nights"].replace('"06:30"', '"none"')
    texts["maple-hollow"] = (ROOT / "schedules/maple-hollow.toml").read_text()
    for name in ("timer and lamp", "white nights"):
        texts[f"{name} by 12 hours"] = texts[name] + IN_12_HOURS
    texts["long"] = texts["bare"].replace("Alder Row (demo)", "W" * 100)
    made = {}
    for name, text in texts.items():
        (folder / f"{name}.toml").write_text(text, "utf-8")
        made[name] = folder / f"{name}.html"
        arguments = [
            "report",
            str(folder / f"{name}.toml"),
            "--year",
            "2027",
            "-o",
            str(made[name]),
        ]
        assert run(arguments) == 0
    return made


def test_it_holds_every_part(pages):
    page = read(pages["alder-row"])
    text = " ".join(" ".join(page.text).split())
    for words in (
        "Longest open 16 h 01 min on 2027-05-30",
        "Longest single night 14 h 31 min from 2027-01-01",
        "2027-06 30 8:05 8:08 8:22 0 245:10 78:07 0",
        "House floor tight 3 sq ft (0.279 m2) a bird",
        "Under 14 h 235 of 365 days",
        "not before 06:30",
        "shut = yes",
        "2027-05-10 2027-05-30 young birds come in late close.offset_min = 40",
        "count heads at dusk",
        "time-zone rules 2026f",
    ):
        assert words in text, words


@pytest.mark.parametrize("name", ["alder-row", "fjord-end", "hostile", "bare"])
def test_it_can_be_read_without_seeing(pages, name):
    page = read(pages[name])
    assert page.all("html")[0]["lang"] == "en"
    levels = [int(tag[1]) for tag, _ in page.tags if re.fullmatch(r"h\d", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    assert {"header", "main", "nav", "footer"} <= {tag for tag, _ in page.tags}
    assert len(page.all("table")) == len(page.all("caption"))
    assert all(cell.get("scope") in ("row", "col", "colgroup") for cell in page.all("th"))
    assert len(page.all("img")) == 2
    for image in page.all("img"):
        assert len(image["alt"]) > 100
        svg = base64.b64decode(image["src"].removeprefix("data:image/svg+xml;base64,"))
        ElementTree.fromstring(svg)
    anchors = {attributes["href"] for attributes in page.all("a")}
    assert anchors == {f"#{heading['id']}" for heading in page.all("h2")}


def test_what_the_keeper_wrote_stays_text(pages):
    page = read(pages["hostile"])
    assert not page.all("script")
    text = "".join(page.text)
    # The heading, the page's title, a reason in summary and settings, and three times in the notes.
    assert text.count(HOSTILE) >= 7
    assert "49" not in text.split("\N{HATCHING CHICK}")[0]


def shown_days(page: Reader) -> dict[str, list[tuple[str, ...]]]:
    """Return the columns of each date of the door times, pair by pair; a shut pair is one word."""
    found = {}
    for table in page.tables:
        if table["class"] != "days":
            continue
        (_, *months), _, *rows = table["rows"]
        for (day, _), *cells in rows:
            column = iter(cells)
            for month, width in months:
                taken, here = 0, []
                while taken < width:
                    text, span = next(column)
                    here.append((text, span))
                    taken += span
                if here[0][1] < width or here[0][0]:
                    name = dt.datetime.strptime(f"{day} {month}", "%d %B %Y").date()  # noqa: DTZ007
                    found[str(name)] = [text for text, _ in here]
    return found


def columns_of(path, name: str, *keys: str) -> dict[str, list[str]]:
    """Return columns of the plan's CSV by date, read by Python's own reader."""
    import csv  # noqa: PLC0415

    from daylatch.__main__ import run  # noqa: PLC0415

    target = path.with_name(f"{name}.csv")
    arguments = ["plan", str(path.with_name(f"{name}.toml")), "--year", "2027", "-o", str(target)]
    assert run([*arguments, "--force"]) == 0
    with target.open(newline="", encoding="utf-8") as file:
        return {row["date"]: [row[key] for key in keys] for row in csv.DictReader(file)}


def by_24_hours(text: str) -> str:
    """Return a time of day by 24 hours, with its mark, as somebody reads one of twelve."""
    time, mark = (text[:-1], text[-1]) if text[-1] in "<>" else (text, "")
    if time in ("noon", "midnight"):
        return f"{'12' if time == 'noon' else '00'}:00{mark}"
    clock, half = re.fullmatch(r"(\d{1,2}:\d\d)\s([AP])M", time).groups()
    hour, minute = map(int, clock.split(":"))
    return f"{hour % 12 + 12 * (half == 'P'):02d}:{minute:02d}{mark}"


@pytest.mark.parametrize(
    "name", ["alder-row", "fjord-end", "timer and lamp", "white nights", *BY_12_HOURS]
)
def test_it_holds_the_due_times_of_every_day(pages, name):
    plan = columns_of(pages[name], name, *DUE_KEYS)
    days = shown_days(read(pages[name]))
    assert sorted(days) == sorted(plan)
    assert len(days) == 365
    marks = {-1: "<", 0: "", 1: ">"}
    for date, values in plan.items():
        wanted = []
        for instant in values:
            if instant:
                day = (dt.date.fromisoformat(instant[:10]) - dt.date.fromisoformat(date)).days
                wanted.append(instant[11:16] + marks[day])
        found = days[date][: len(wanted) or 1]
        if name in BY_12_HOURS and wanted:
            found = list(map(by_24_hours, found))
        assert found == (wanted or ["shut"]), date


def test_planned_times_stand_beside_those_that_are_due(pages):
    name = "timer and lamp"
    plan = columns_of(pages[name], name, "open_local", "close_local")
    page = read(pages[name])
    days = shown_days(page)
    for date, values in plan.items():
        assert days[date][2:4] == [instant[11:16] for instant in values]
    heads = {text for table in page.tables for text, _ in table["rows"][1:2][0][1:]}
    assert {"opens as planned", "closes by the door's clock"} <= heads


def test_times_on_another_date_are_marked_and_the_mark_is_told(pages):
    text = " ".join(" ".join(read(pages["white nights"]).text).split())
    assert "> stands behind times after midnight, on the next date" in text
    assert "stands behind" not in " ".join(read(pages["alder-row"]).text)


def test_it_holds_the_lists_of_the_door_s_and_the_lamp_s_timer(pages):
    name = "timer and lamp"
    page = read(pages[name])
    for lamp, caption in ((False, "door's timer"), (True, "lamp's timer")):
        listed = json.loads(printed(pages[name], name, lamp=lamp))
        settings = listed["morning" if lamp else "settings"]
        (table,) = (table for table in page.tables if caption in table["caption"])
        rows = [row[0][0] for row in table["rows"][1:]]
        assert [row[4:] for row in dict.fromkeys(rows)] == [one["from"] for one in settings]
    assert "set it on fire" in " ".join(page.text)
    assert "Setting the" not in " ".join(read(pages["alder-row"]).text)


def test_a_list_in_use_is_not_told_against(daylatch, tmp_path):
    site = (ROOT / "schedules/lagoon-hut.toml").read_text()
    (tmp_path / "site.toml").write_text(site)
    assert daylatch("settings", "--year", "2027", "-o", "list.json").status == 0
    used = site.replace('works = "timer"', 'works = "timer"\nin_use = "list.json"')
    (tmp_path / "site.toml").write_text(used)
    assert daylatch("report", "--year", "2027", "-o", "r.html").status == 0
    text = " ".join(read(tmp_path / "r.html").text)
    assert "Setting the timer" not in text
    assert "opens as planned" in text


def test_a_lamp_s_list_that_cannot_be_is_left_out_with_a_warning(daylatch, alder_row):
    lamp = '[laying]\nlamp = "morning"\n[laying.timer]\nclock_margin_min = 60\n'
    text = re.sub(r"\[flock\].*", lamp, alder_row.read_text(), flags=re.S)
    alder_row.write_text(text)
    assert daylatch("settings", "--lamp", "--year", "2027").status == 4
    ran = daylatch("report", "--year", "2027", "-o", "r.html")
    assert ran.status == 0
    assert "warning: the list of the lamp's timer is left out: " in ran.err
    assert "Setting the lamp" not in " ".join(read(alder_row.with_name("r.html")).text)


def printed(path, name: str, *, lamp: bool) -> str:
    from daylatch.__main__ import run  # noqa: PLC0415

    target = path.with_name(f"list-{lamp}.json")
    site = str(path.with_name(f"{name}.toml"))
    options = ["--lamp"] * lamp
    assert run(["settings", site, "--year", "2027", *options, "-o", str(target), "--force"]) == 0
    return target.read_text()


def test_words_of_the_trade_are_told_where_they_first_appear(pages):
    for name in ("alder-row", "fjord-end", "timer and lamp", "bare"):
        text = " ".join(" ".join(read(pages[name]).text).split()).lower()
        for word, told in (
            ("lock-in", "a lock-in is the time from one closing of the door to its next opening"),
            ("guard", "the guard is a light in the twilight past which no day is widened"),
        ):
            first = re.search(rf"\b{word}", text)
            assert first is None or first.start() == text.index(told) + told.index(word), name


def _channel(value: int) -> float:
    share = value / 255
    return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4


def _luminance(colour: str) -> float:
    red, green, blue = (int(colour[place : place + 2], 16) for place in (1, 3, 5))
    return 0.2126 * _channel(red) + 0.7152 * _channel(green) + 0.0722 * _channel(blue)


def test_every_colour_of_text_stands_out():
    """WCAG 2.1, 1.4.6: a contrast of at least 7 to 1, by its definition of relative luminance."""
    css = (ROOT / "src/daylatch/paper/pages/templates/report.html").read_text()
    roots = re.findall(r":root \{ color-scheme: (light|dark); (.*?) \}", css)
    assert [scheme for scheme, _ in roots] == ["light", "dark"]
    for _, given in roots:
        colours = dict(re.findall(r"--(\w+): (#[0-9a-f]{6});", given))
        for text in ("ink", "soft", "link"):
            for ground in ("paper", "band", "box"):
                pair = sorted((_luminance(colours[text]), _luminance(colours[ground])))
                assert (pair[1] + 0.05) / (pair[0] + 0.05) >= 7.0, (text, ground)


@needs_chromium
@pytest.mark.parametrize("width", [360, 768, 1280])
@pytest.mark.parametrize("name", ["fjord-end", "hostile", "long"])
def test_it_fits_phone_and_desktop_in_a_browser(pages, name, width):
    with opened(pages[name], width) as page:
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert page.evaluate("document.fonts.size") == 0
        images = page.evaluate(
            "[...document.images].map(i => [i.complete && i.naturalWidth > 0, i.clientWidth])"
        )
        assert all(loaded and shown >= 320 for loaded, shown in images)
        # What is wider than the page can be scrolled to, also by keys.
        unreachable = page.evaluate(
            """[...document.querySelectorAll("table, img")].filter(e => {
                const box = e.closest(".wide");
                return !(box && box.tabIndex === 0 && getComputedStyle(box).overflowX === "auto");
            }).length"""
        )
        assert unreachable == 0
        # No text lies over other text: blocks follow each other downwards.
        overlapping = page.evaluate(
            """(() => {
                const kinds = "h1, h2, p, dt, dd, caption, figcaption, li";
                const blocks = [...document.querySelectorAll(kinds)]
                    .map(e => e.getBoundingClientRect()).filter(r => r.height > 0);
                let count = 0;
                for (let i = 0; i < blocks.length; i++)
                    for (let j = i + 1; j < blocks.length; j++) {
                        const a = blocks[i], b = blocks[j];
                        if (a.left < b.right - 1 && b.left < a.right - 1
                            && a.top < b.bottom - 1 && b.top < a.bottom - 1
                            && !(a.top <= b.top && a.bottom >= b.bottom
                                 && a.left <= b.left && a.right >= b.right)) count++;
                    }
                return count;
            })()"""
        )
        assert overlapping == 0
        assert page.title().startswith("W" * 100 if name == "long" else "")


PRINTED = [
    (name, paper)
    for name in ("alder-row", "fjord-end", "timer and lamp", "bare", *BY_12_HOURS)
    for paper in PAPERS
    # Its keeper asks for Letter.
    if (name, paper) != ("maple-hollow", "A4")
]


@needs_chromium
@pytest.mark.parametrize(("name", "paper"), PRINTED)
def test_it_prints_full_pages_without_cutting(pages, tmp_path, name, paper):
    with opened(pages[name]) as page:
        page.pdf(path=tmp_path / "report.pdf", format=paper)
    document = pypdfium2.PdfDocument(tmp_path / "report.pdf")
    assert 4 <= len(document) <= 8
    text, filled = "", []
    captions = [table["caption"] for table in read(pages[name]).tables]
    for sheet in document:
        width, height = sheet.get_size()
        words = sheet.get_textpage()
        text += f"{words.get_text_range()}\n"
        boxes = [words.get_rect(index) for index in range(words.count_rects())]
        assert min(left for left, _, _, _ in boxes) >= 0
        assert max(right for _, _, right, _ in boxes) <= width
        filled.append((height - min(bottom for _, bottom, _, _ in boxes)) / height)
        # The last line of a page is no heading whose text stands on the next.
        last = words.get_text_range().strip().splitlines()[-1].strip()
        assert last not in [*captions, "Summary", "Settings"]
        assert not last.startswith(("day opens", "Requirement", "Month Begun", "From Open"))
    assert min(filled[:-1]) > 0.7, filled
    for words in ("Does the house fit?", "Settings", "Second opinion"):
        assert words in text
    # Neither a month nor a date is broken over two lines.
    assert not re.search(r"2027-(\d\d-)?\s*\n\s*\d\d\b", text)


def test_what_does_not_pass_is_said_before_the_tables_as_fit_says_it(daylatch, alder_row):
    said = re.findall(
        r"^(Fail|Tight|Not checked) +(.*)", daylatch("fit", "--year", "2027").out, re.M
    )
    assert [verdict for verdict, _ in said] == ["Fail", "Tight", "Not checked"]
    assert daylatch("report", "--year", "2027", "-o", "r.html").status == 0
    page = alder_row.with_name("r.html").read_text()
    house = page[page.index('id="house"') :]
    for verdict, titles in said:
        place = house.index(f"<dt>{verdict}</dt>")
        assert titles.split(",")[0] in house[place : place + 300]
        assert place < house.index("<table")


def test_the_same_input_gives_the_same_page(daylatch, alder_row, monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1798761600")
    assert daylatch("report", "--year", "2027", "-o", "r.html").status == 0
    first = alder_row.with_name("r.html").read_bytes()
    ran = daylatch("report", "--year", "2027", "-o", "r.html")
    assert "already up to date" in ran.err
    assert first == alder_row.with_name("r.html").read_bytes()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "say where the page goes"),
        (("-o", "report.pdf"), "report writes .html"),
        (("-o", "report.html", "--from", "2001-01-01", "--until", "2020-01-01"), "too many"),
        (("-o", "nowhere/report.html"), "cannot be written"),
        (("-o", "."), "report writes .html"),
    ],
)
def test_what_it_cannot_do_is_said_once(daylatch, alder_row, arguments, words):
    ran = daylatch("report", *arguments)
    assert ran.status in (2, 6)
    assert words in ran.err
    assert len(ran.err.splitlines()) == 1
    assert not list(alder_row.parent.glob("*.html"))


def test_a_page_of_someone_elses_is_left_alone(daylatch, alder_row):
    other = alder_row.with_name("mine.html")
    other.write_text("<!DOCTYPE html><title>mine</title>")
    assert daylatch("report", "-o", "mine.html").status == 6
    assert other.read_text() == "<!DOCTYPE html><title>mine</title>"


def test_without_the_libraries_it_says_what_to_install(daylatch, alder_row, monkeypatch):
    monkeypatch.setitem(sys.modules, "jinja2", None)
    ran = daylatch("report", "-o", "report.html")
    assert ran.status == 6
    assert "pip install 'daylatch[pictures]'" in ran.err
