"""The text of a new site file, short and with everything, held against the models both ways."""

from __future__ import annotations

import dataclasses
import re
import tomllib
from collections import Counter
from typing import NamedTuple, get_origin

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel

from daylatch.clock import WallTime, zone_at
from daylatch.site.diary import DiaryLog
from daylatch.site.reading.site_file import read_site
from daylatch.site.starter.text import Start, starter_text
from daylatch.site.tables import TABLES, Head, Span, table_model
from daylatch.site.timer import Timer

ID = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"
FORMS = {"short": False, "all": True}
PLACES = {
    "Utrecht": (52.09, 5.12),
    "Sydney": (-33.87, 151.21),
    "Singapore": (1.29, 103.85),
    "Quito": (-0.18, -78.47),
    "Longyearbyen": (78.22, 15.65),
    "Ushuaia": (-54.8, -68.3),
    "Kiritimati": (1.87, -157.4),
    "Apia": (-13.83, -171.77),
    "Fairbanks": (64.84, -147.72),
    "McMurdo": (-77.85, 166.67),
}
NEVER_WITH = {("place", "city"): {("place", "latitude"), ("place", "longitude")}}
"""A key that stands instead of others which the file gives."""
INSTEAD = {
    ("place", "city"),
    ("timer", "changes"),
    ("house", "floor_ft2"),
    *(("house", key) for key in ("wall_ft", "roost_ft", "nest_box_in", "vents_in2")),
    *(("clock", key) for key in ("coldest_f", "warmest_f")),
    ("house", "littered_m2"),
    ("house", "littered_ft2"),
    ("run", "floor_ft2"),
    ("skyline", "file"),
    ("laying", "timer.changes"),
    *(("panel", key) for key in ("horizontal_kwh_m2_day", "light_file")),
    *(("battery", key) for key in ("capacity_ah", "cells")),
    ("diary.log", "instant"),
    ("diary.log", "kind"),
}
"""Of those that exclude each other, all but one."""


def text_of(form, place="Utrecht", fallbacks=(None, None), year=2027, city="", name="House"):
    latitude, longitude = PLACES[place]
    zone = zone_at(latitude, longitude)
    start = Start(ID, name, latitude, longitude, city, zone, *fallbacks, year)
    return starter_text(start, everything=FORMS[form])


class Setting(NamedTuple):
    """A key as it stands in a text, switched on or behind a ``#``."""

    line: int
    table: str
    name: str
    shown: object
    is_on: bool
    span: int = 0

    @property
    def key(self):
        return self.table, self.name


def settings_in(text):
    """Return every key that stands in a text, read line by line and by nothing of the program."""
    table, span, found = "", 0, []
    for number, line in enumerate(text.splitlines()):
        header = re.fullmatch(r"(# )?\[(\[?)([a-z_.]+)\]\]?", line)
        if header:
            table = header[3]
            span += table == "span"
        setting = re.fullmatch(r"(# )?([a-z_0-9.]+) = (.+)", line)
        if setting:
            shown = tomllib.loads(f"x = {setting[3]}")["x"]
            found.append(Setting(number, table, setting[2], shown, not setting[1], span))
    return found


def switched(text, on, off=()):
    """Return a text with some of its lines switched on and some off."""
    lines = text.splitlines()
    for number in on:
        lines[number] = lines[number].removeprefix("# ")
    for number in off:
        lines[number] = f"# {lines[number]}"
    return "\n".join(lines) + "\n"


def entry_lines(text, table):
    """Return the lines that begin an entry of a list of tables."""
    return [n for n, line in enumerate(text.splitlines()) if line.endswith(f"[[{table}]]")]


def fields_of(model, before=""):
    """Yield the dotted name and the field of every key of a model."""
    for name, field in model.model_fields.items():
        kinds = (field.annotation, *getattr(field.annotation, "__args__", ()))
        inner = [kind for kind in kinds if isinstance(kind, type) and issubclass(kind, BaseModel)]
        if get_origin(field.annotation) is list and inner:
            continue
        if inner:
            yield from fields_of(inner[0], f"{before}{name}.")
        else:
            yield f"{before}{field.alias or name}", field


MODELS = {"": Head, **{name: table_model(name) for name in TABLES}, "span": Span}
MODELS["diary.log"] = DiaryLog
LISTS = ("span", "diary.log")
FIELDS = {(table, key): field for table, model in MODELS.items() for key, field in fields_of(model)}


def default_of(key):
    field = FIELDS[key]
    return None if field.is_required() else field.get_default(call_default_factory=True)


def effective(site):
    """Return a site's settings, with the defaults of the tables that it leaves out."""
    settings = site.settings
    left_out = {name: table_model(name)() for name in TABLES if getattr(settings, name) is None}
    full = dataclasses.replace(settings, **left_out)
    laying = full.laying.model_copy(update={"timer": full.laying.timer or Timer()})
    return dataclasses.replace(full, laying=laying)


# --- Every key, and no other -------------------------------------------------------------------


def test_with_everything_each_key_of_the_models_stands_there_once():
    found = Counter(setting.key for setting in settings_in(text_of("all")))
    repeated = {("span", key) for key in ("from", "until", "reason")}
    assert set(found) == set(FIELDS)
    assert {key for key, count in found.items() if count > 1} == repeated
    assert len(FIELDS) > 100


def test_with_everything_each_table_stands_there_once():
    headers = re.findall(r"^\[([a-z_]+)\]$", text_of("all"), re.M)
    assert headers == list(TABLES)


@pytest.mark.parametrize("name", TABLES)
def test_above_each_table_stands_what_it_is_about(name):
    lines = text_of("all").splitlines()
    above = lines[: lines.index(f"[{name}]")]
    paragraph = above[len(above) - above[::-1].index("") :]
    assert all(line.startswith("# ") for line in paragraph)
    assert " ".join(line.removeprefix("# ") for line in paragraph) == table_model(name).ABOUT
    assert table_model(name).ABOUT


def test_the_short_file_shows_what_a_keeper_edits_and_names_the_rest():
    text = text_of("short")
    found = Counter(setting.key for setting in settings_in(text) if setting.table != "span")
    assert set(found) <= set(FIELDS)
    assert max(found.values()) == 1
    shown = {"place", "writing", "open", "close", "day", "night", "head_count", "door", "timer"}
    assert {table for table, _ in found} == {"", *shown}
    others = r"# `daylatch new all.toml --all` shows every other table \(([^)]*)\)"
    (pointer,) = re.findall(others, text)
    assert {name.strip("# ") for name in re.split(r"[,\s]+", pointer)} >= set(TABLES) - shown
    # A page and a half, where everything is more than four.
    assert len(text.splitlines()) <= 115
    assert len(text_of("all").splitlines()) > 200


@pytest.mark.parametrize("form", FORMS)
def test_every_key_is_explained_where_it_is_met_first(form):
    text = text_of(form)
    lines = text.splitlines()
    met = set()
    for setting in settings_in(text):
        about = FIELDS[setting.key].description
        if setting.name in met and form == "short":
            continue
        met.add(setting.name)
        if setting.table == "span" and "." in setting.name and ".fixed" not in setting.name:
            continue  # explained in its table
        if setting.table == "span" and setting.span > 1 and ".fixed" not in setting.name:
            continue  # explained in the first span
        beside = lines[setting.line].partition("  # ")[2]
        for line in lines[setting.line + 1 :]:
            if not line.startswith("#     "):
                break
            beside += f" {line.strip('# ')}"
        assert " ".join(beside.split()).startswith(about), setting


# --- What is shown is so -----------------------------------------------------------------------


@pytest.mark.parametrize("place", ["Utrecht", "Sydney"])
@pytest.mark.parametrize("form", FORMS)
def test_what_is_shown_of_a_key_with_a_default_is_the_default(form, place):
    compared = 0
    for setting in settings_in(text_of(form, place)):
        default = default_of(setting.key)
        if default is not None and setting.table != "span":
            assert setting.shown == getattr(default, "value", default), setting
            compared += 1
    assert compared >= {"short": 15, "all": 45}[form]


@pytest.mark.parametrize("place", ["Utrecht", "Sydney", "Longyearbyen"])
@pytest.mark.parametrize("form", FORMS)
def test_switching_on_every_default_changes_nothing(form, place):
    text = text_of(form, place, fallbacks=(WallTime(330), WallTime(1350)))
    on = [
        setting.line
        for setting in settings_in(text)
        if not setting.is_on and setting.table not in LISTS and default_of(setting.key) is not None
    ]
    assert on
    plain, full = (read_site(one, "site.toml") for one in (text, switched(text, on)))
    assert effective(full) == effective(plain)
    assert full.warnings == plain.warnings == ()


@pytest.mark.parametrize("form", FORMS)
def test_what_is_switched_on_says_what_leaving_it_out_would(form):
    bare = read_site(
        f'id = "{ID}"\nname = "House"\n[place]\nlatitude = 52.09\nlongitude = 5.12\n'
        'zone = "Europe/Amsterdam"\n',
        "site.toml",
    )
    assert read_site(text_of(form), "site.toml") == bare


@pytest.mark.parametrize("form", FORMS)
def test_limits_meet_the_fallbacks_and_their_tables_say_why(form):
    opening, closing = WallTime(345), WallTime(15)
    plain = Start(ID, "House", 64.5, -165.4, "", "America/Nome", opening, closing, 2027)
    texts = [
        starter_text(dataclasses.replace(plain, with_limits=limits), everything=FORMS[form])
        for limits in (False, True)
    ]
    without, with_them = (read_site(text, "site.toml").settings for text in texts)
    assert without.open.not_before is without.close.not_after is None
    assert with_them.open == without.open.model_copy(update={"not_before": opening})
    assert with_them.close == without.close.model_copy(update={"not_after": closing})
    said = " ".join(texts[1].replace("\n# ", " ").split())
    assert "so that nothing jumps between a day with the light and one without" in said
    assert max(map(len, texts[1].splitlines())) <= 100


@pytest.mark.parametrize("form", FORMS)
def test_a_least_night_is_switched_on_and_its_table_says_why(form):
    start = Start(
        ID, "House", 52.09, 5.12, "", "Europe/Amsterdam", None, None, 2027, least_night_h=6
    )
    text = starter_text(start, everything=FORMS[form])
    assert read_site(text, "site.toml").settings.night.least_h == 6
    assert "By the light alone nights here get shorter than least_h" in text


# --- Examples can be switched on ---------------------------------------------------------------


def examples(form, place):
    text = text_of(form, place)
    return [
        setting
        for setting in settings_in(text)
        if not setting.is_on and setting.table not in LISTS and default_of(setting.key) is None
    ]


@pytest.mark.parametrize("place", ["Utrecht", "Sydney", "Singapore", "Longyearbyen"])
@pytest.mark.parametrize("form", FORMS)
def test_each_example_is_taken_by_itself(form, place):
    text, found = text_of(form, place), examples(form, place)
    lines = {setting.key: setting.line for setting in settings_in(text)}
    assert len(found) >= {"short": 9, "all": 35}[form]
    for setting in found:
        off = [lines[key] for key in NEVER_WITH.get(setting.key, ())]
        site = read_site(switched(text, [setting.line], off), "site.toml")
        read = getattr(site.settings, setting.table)
        for part in setting.name.split("."):
            fields = type(read).model_fields.items()
            read = getattr(read, next(name for name, one in fields if (one.alias or name) == part))
        assert read is not None, setting
        if isinstance(setting.shown, str):
            assert str(read) == setting.shown
        elif isinstance(setting.shown, list):
            assert read == setting.shown or list(map(str, read)) == setting.shown
        else:
            assert read == setting.shown


@pytest.mark.parametrize("place", ["Utrecht", "Sydney"])
@pytest.mark.parametrize("form", FORMS)
def test_each_key_of_the_spans_is_taken_by_itself(form, place):
    text = text_of(form, place)
    found = [setting for setting in settings_in(text) if setting.table == "span"]
    begins = entry_lines(text, "span")
    assert len(begins) == {"short": 2, "all": 3}[form]
    for setting in found:
        dates = [
            other.line
            for other in found
            if other.span == setting.span and other.name in ("from", "until")
        ]
        on = {begins[setting.span - 1], *dates, setting.line}
        site = read_site(switched(text, on), "site.toml")
        (span,) = site.settings.spans
        assert site.warnings == ()
        given = dict(span.changes()) | {
            "from": span.first,
            "until": span.last,
            "reason": span.reason,
            "away": span.away,
            "sitter": span.sitter,
            "tell": span.tell,
        }
        read = given[setting.name]
        assert getattr(read, "value", read) == setting.shown or str(read) == setting.shown


def test_each_key_of_a_log_is_taken_by_itself():
    text = text_of("all")
    lines = {setting.name: setting for setting in settings_in(text) if setting.table == "diary.log"}
    assert len(lines) == len(DiaryLog.model_fields)
    for setting in lines.values():
        instead = {"date": "instant", "time": "instant", "kind": "what"}.get(setting.name)
        needed = {"name", "what", "instant", setting.name} - {instead}
        needed |= {"date", "time"} if instead == "instant" else set()
        needed -= {"words"} if setting.name == "kind" else set()
        on = [*entry_lines(text, "diary.log"), *(lines[name].line for name in needed)]
        (log,) = read_site(switched(text, on), "site.toml").settings.diary.log
        assert getattr(log, setting.name) == setting.shown


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("form", FORMS)
def test_all_that_can_stand_together_may_be_switched_on_together(form, place):
    text = text_of(form, place)
    on = [setting.line for setting in settings_in(text) if not setting.is_on]
    on = {*on, *(line for table in LISTS for line in entry_lines(text, table))} - {
        setting.line for setting in settings_in(text) if setting.key in INSTEAD
    }
    site = read_site(switched(text, on), "site.toml")
    assert site.warnings == ()
    assert site.settings.open.dark_fallback == WallTime(540)
    assert [span.reason for span in site.settings.spans][:2] == [
        "housing order",
        "young birds come in late",
    ]


# --- Places and names --------------------------------------------------------------------------


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("form", FORMS)
def test_the_file_reads_without_a_word_anywhere(form, place):
    site = read_site(text_of(form, place), "site.toml")
    assert site.warnings == ()
    assert (site.latitude_deg, site.longitude_deg) == PLACES[place]
    assert site.settings.spans == ()


def test_dates_and_temperatures_are_those_of_the_place():
    north, south, tropics = (text_of("all", place) for place in ("Utrecht", "Sydney", "Singapore"))
    assert "# from = 2027-05-01" in north
    assert "# from = 2027-11-01" in south
    assert "# lamp_from = 2027-05-01" in south
    assert "# coldest_c = -10" in north
    assert "# coldest_c = 0 " in south
    assert "# coldest_c = 15" in tropics
    assert '# temperature = "hot"' in tropics


def test_a_city_is_named_and_its_name_can_stand_instead():
    label = "Sydney, Australia"
    text = text_of("all", "Sydney", city=label)
    assert f"# of {label} (GeoNames)." in text
    assert f'# city = "{label}"' in text


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("form", FORMS)
def test_no_line_is_longer_than_a_hundred_characters(form, place):
    text = text_of(form, place, fallbacks=(WallTime(330), WallTime(1350)), city="X" * 60)
    assert max(map(len, text.splitlines())) <= 100
    assert text.endswith("\n")
    assert not [line for line in text.splitlines() if line != line.rstrip()]


@given(
    st.text(
        st.characters(exclude_categories=["Cc", "Cf", "Cs", "Zl", "Zp"])
        | st.sampled_from("\u200c\u200d\u0600\U000e0067"),
        min_size=1,
        max_size=100,
    ),
    st.floats(-90, 90),
    st.floats(-180, 180),
    st.none() | st.tuples(st.integers(0, 1439), st.integers(0, 1439)),
    st.booleans(),
    st.integers(1902, 2100),
)
def test_what_goes_in_comes_out(name, latitude, longitude, times, everything, year):
    fallbacks = tuple(map(WallTime, times)) if times else (None, None)
    start = Start(ID, name, latitude, longitude, "", "Etc/GMT", *fallbacks, year)
    text = starter_text(start, everything=everything)
    site = read_site(text, "site.toml")
    assert (site.id, site.name, site.zone) == (ID, name, "Etc/GMT")
    assert (site.latitude_deg, site.longitude_deg) == (latitude, longitude)
    assert (site.settings.open.fallback, site.settings.close.fallback) == fallbacks
    own = [line for line in text.splitlines() if not line.startswith("name = ")]
    assert max(map(len, own)) <= 100


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize(
    "name",
    ['The "Coop"', 'x"\nid = "evil'.replace("\n", "\\n"), "# x = 1", "[[span]]", "🐔 東京 Å"],
)
def test_a_hostile_name_is_a_name(form, name):
    text = text_of(form, name=name)
    assert tomllib.loads(text)["name"] == name
    assert set(tomllib.loads(text)) == set(tomllib.loads(text_of(form)))
