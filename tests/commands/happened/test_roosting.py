"""``daylatch roosting``, as a keeper uses it; and what other commands say of it."""

from __future__ import annotations

import csv
import io
import json
import re
import tomllib
from pathlib import Path

import pytest
from scipy.stats import beta

from daylatch.diary.roosting.shares import SHARES
from daylatch.site.reading.site_file import load_site
from roosting_flocks import light_on, spread
from sites import HOUSE

ROOT = Path(__file__).resolve().parents[3]
EVENINGS = ROOT / "schedules/alder-row-evenings-2026.csv"
HEAD = "instant,what\n"


@pytest.fixture
def log(tmp_path, alder_row, monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1798761600")
    (tmp_path / "log.csv").write_bytes(EVENINGS.read_bytes())
    return tmp_path / "log.csv"


def rows(log, count):
    """Keep the first evenings of a log only."""
    lines = log.read_text().splitlines(keepends=True)
    log.write_text("".join(lines[: count + 1]))


def log_evenings(log, days, light_deg):
    """Write a log of evenings about a light at the site as it is."""
    moments = light_on("2026-08-25", days, light_deg, load_site(Path("site.toml"))) + spread(days)
    log.write_text(HEAD + "".join(f"{at}Z,last_in\n" for at in moments))


def nothing_is_written(daylatch, words):
    """Check that a proposal is refused with words, and that the site file stays as it is."""
    before = Path("site.toml").read_bytes()
    ran = daylatch("roosting", "log.csv", "--write")
    assert ran.status == 2
    assert words in " ".join(ran.err.split())
    assert Path("site.toml").read_bytes() == before


def as_json(daylatch, *more):
    ran = daylatch("roosting", "log.csv", "--to", "json", *more)
    assert ran.status == 0, ran.err
    return json.loads(ran.out)


def test_a_log_is_learned_from_as_the_demo_shows(daylatch, log, tmp_path):
    ran = daylatch("roosting", "log.csv")
    assert (ran.status, ran.err) == (0, "")
    expected = (ROOT / "schedules/alder-row-roosting-2026.txt").read_text()
    expected = expected.replace("schedules/alder-row-evenings-2026.csv", "log.csv")
    assert " ".join(ran.out.split()) == " ".join(expected.split())
    assert not (tmp_path / "site.diary").exists()


def test_the_diary_says_the_same(daylatch, log):
    assert daylatch("diary", "import", "log.csv").status == 0
    of_log, of_diary = daylatch("roosting", "log.csv").out, daylatch("roosting").out
    assert of_diary.replace("site.diary", "log.csv") == of_log


def test_programs_get_every_field(daylatch, log):
    found = as_json(daylatch)
    assert found["light_deg"] == 4.11
    assert 0.1 < found["light_error_deg"] < 0.4
    assert found["evenings"] == 66
    assert [one["date"] for one in found["outliers"]] == ["2026-10-02", "2026-10-31"]
    assert [one["share"] for one in found["shares"]] == [0.8, 0.9, 0.95]
    assert all(one["confidence"] >= 0.95 for one in found["shares"])
    assert found["refused"] == [{"share": 0.99, "needs": 299}]
    proposal = found["proposal"]
    assert (proposal["light_deg"], proposal["share"]) == (4.11, 0.95)
    by_share = {one["share"]: one["offset_min"] for one in found["shares"]}
    assert 0 <= proposal["offset_min"] - by_share[0.95] < 1
    assert "morning" not in found
    assert found["words"].startswith("Your birds go in at 4.1°, ")


@pytest.mark.parametrize(
    ("evenings", "carried", "refused"),
    [
        (14, [0.8], [0.9, 0.95, 0.99]),
        (29, [0.8, 0.9], [0.95, 0.99]),
        (59, [0.8, 0.9, 0.95], [0.99]),
    ],
)
def test_what_the_evenings_carry_is_claimed_and_the_rest_refused(
    daylatch, log, evenings, carried, refused
):
    rows(log, evenings)
    found = as_json(daylatch)
    assert [one["share"] for one in found["shares"]] == carried
    assert [(one["share"], one["needs"]) for one in found["refused"]] == [
        (share, dict(zip(SHARES, (14, 29, 59, 299), strict=True))[share]) for share in refused
    ]
    assert found["proposal"]["share"] == carried[-1]


@pytest.mark.parametrize("share", ["85", "85%", "85 %", "0.85"])
def test_a_share_is_chosen_in_percent_or_as_a_fraction(daylatch, log, share):
    found = as_json(daylatch, "--share", share)
    assert found["proposal"]["share"] == 0.85
    assert 0.85 in [one["share"] for one in found["shares"]]


@pytest.mark.parametrize("share", ["0", "1", "100", "49", "-3", "most", "", "9" * 50, "nan"])
def test_any_other_share_is_refused(daylatch, log, share):
    ran = daylatch("roosting", "log.csv", f"--share={share}")
    assert ran.status == 2
    assert ran.err.startswith("daylatch: --share is ")
    assert "such as 95" in ran.err


def test_every_evening_is_a_row(daylatch, log):
    ran = daylatch("roosting", "log.csv", "--to", "csv")
    table = list(csv.DictReader(io.StringIO(ran.out)))
    assert len(table) == 66
    assert [one["date"] for one in table if one["outlier"] == "yes"] == ["2026-10-02", "2026-10-31"]
    deg = sorted(float(one["depression_deg"]) for one in table)
    assert (deg[32] + deg[33]) / 2 == pytest.approx(4.11, abs=0.006)
    assert table[0]["moment_local"] == "2026-08-24T20:30:00+01:00"


@pytest.mark.parametrize("ending", ["svg", "png", "pdf"])
def test_a_picture_shows_it(daylatch, log, ending):
    ran = daylatch("roosting", "log.csv", "-o", f"roosting.{ending}")
    assert ran.status == 0, ran.err
    content = Path(f"roosting.{ending}").read_bytes()
    assert content.startswith({"svg": b"<?xml", "png": b"\x89PNG", "pdf": b"%PDF"}[ending])
    if ending == "svg":
        assert "Far from the others: 2026-10-02 at 19:30 (35 min later)" in content.decode()


def test_evenings_and_mornings_have_a_panel_each(daylatch, log):
    mornings = "".join(
        f"2026-09-{day:02}T05:{20 + day + day % 5:02}:00Z,first_out,,phone,1,,\n"
        for day in range(1, 21)
    )
    log.write_text(log.read_text() + mornings)
    found = as_json(daylatch)
    assert found["morning"]["evenings"] == 20
    assert found["morning"]["proposal"]["lines"][0] == "[open]"
    assert daylatch("roosting", "log.csv", "-o", "both.svg").status == 0
    picture = Path("both.svg").read_text()
    assert "The first bird wants out with the Sun" in picture
    assert picture.count('id="civil-twilight"') == 2
    assert "Mornings: wanting out" in daylatch("roosting", "log.csv").out


def test_the_proposal_is_put_into_the_file_and_every_comment_stays(daylatch, log, alder_row):
    site = Path("site.toml")
    before = site.read_text()
    ran = daylatch("roosting", "log.csv", "--write")
    assert ran.status == 0, ran.err
    assert "close.light civil becomes 4.11, close.offset_min 15 becomes 16" in ran.err
    after = site.read_text()
    assert re.findall("#.*", before) == [
        one for one in re.findall("#.*", after) if "learned" not in one
    ]
    changed = [line for line in after.splitlines() if line not in before.splitlines()]
    assert changed == [
        "# 4.11° learned on 2027-01-01 from 66 evenings, 2026-08-24 to 2026-11-06",
        "light = 4.11",
        "offset_min = 16",
    ]
    told = " ".join(daylatch("explain", "2027-09-01").out.split())
    assert "That light was learned on 2027-01-01 from 66 evenings, 2026-08-24 to 2026-11" in told
    # The span of May changes the offset, not the light; the opening was not learned.
    assert told.count("learned") == 1
    site.write_text(after.replace("light = 4.11", "light = 5"))
    assert "learned" not in daylatch("explain", "2027-09-01").out


def test_what_is_written_twice_has_one_comment(daylatch, log):
    for share in ("80", "95"):
        assert daylatch("roosting", "log.csv", "--write", "--share", share).status == 0
    assert Path("site.toml").read_text().count("learned on") == 1


CLOSES = {
    "a table": '[close]\nlight = "civil" # as we like it\noffset_min = 15\n',
    "no light": "[close]\noffset_min = 20 # so far\n",
    "braces": 'close = {light = "civil", offset_min = 15} # all in one\n',
    "dots": 'close.light = "civil" # dotted\nclose.offset_min = 15\n',
    "nothing": "# nothing of the closing\n",
}


@pytest.mark.parametrize("ends", ["\n", "\r\n"], ids=["lf", "crlf"])
@pytest.mark.parametrize("close", CLOSES.values(), ids=CLOSES)
def test_however_the_closing_is_written(daylatch, log, close, ends):
    head = 'id = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"\nname = "x" # whose?\n'
    place = "# where\n[place]\nlatitude = 51.72 # north\nlongitude = 0.41\n"
    is_top = not close.startswith("[")
    text = head + (close + place if is_top else place + close) + "# the end\n"
    Path("site.toml").write_bytes(b"\xef\xbb\xbf" + text.replace("\n", ends).encode())
    ran = daylatch("roosting", "log.csv", "--write")
    assert ran.status == 0, ran.err
    assert Path("site.toml").read_bytes().startswith(b"\xef\xbb\xbf")
    after = Path("site.toml").read_bytes().decode("utf-8-sig")
    settings = tomllib.loads(after)
    assert (settings["close"]["light"], settings["close"]["offset_min"]) == (4.11, 16)
    for comment in re.findall("# ([^\n]*)", text):
        assert comment in after
    assert ("\n" in after.replace("\r\n", "")) == (ends == "\n")
    assert "That light was learned" in " ".join(daylatch("explain", "2027-09-01").out.split())


def test_a_terminal_is_asked_and_may_refuse(daylatch, log, monkeypatch):
    before, asked = Path("site.toml").read_bytes(), []
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("typer.confirm", lambda text, **_: asked.append(text))
    ran = daylatch("roosting", "log.csv", "--write")
    assert (ran.status, len(asked)) == (2, 1)
    assert "close.light civil becomes 4.11" in asked[0]
    assert Path("site.toml").read_bytes() == before
    monkeypatch.setattr("typer.confirm", lambda text, **_: True)
    assert daylatch("roosting", "log.csv", "--write").status == 0
    assert Path("site.toml").read_bytes() != before


def test_a_protected_file_stays_and_a_link_stays_a_link(daylatch, log):
    site = Path("site.toml")
    before = site.read_bytes()
    site.chmod(0o444)
    ran = daylatch("roosting", "log.csv", "--write")
    assert ran.status != 0
    assert "write-protected" in ran.err
    assert site.read_bytes() == before
    site.chmod(0o644)
    site.rename("real.toml")
    site.symlink_to("real.toml")
    assert daylatch("roosting", "log.csv", "--write").status == 0
    assert site.is_symlink()
    assert "learned on" in Path("real.toml").read_text()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--share", "99"], "99 % is more than these evenings can promise"),
        (
            ["--from", "2026-09-01", "--until", "2026-09-03"],
            "No light can be told: there are 3 evenings",
        ),
        (
            ["--from", "2025-01-01", "--until", "2025-02-01"],
            "holds no word of when the birds went in",
        ),
        (["-o", "site.toml"], "the end of the name says what is written"),
    ],
)
def test_what_cannot_be_written_changes_nothing(daylatch, log, arguments, words):
    before = Path("site.toml").read_bytes()
    ran = daylatch("roosting", "log.csv", "--write", *arguments)
    assert ran.status in {2, 9}
    assert words in " ".join(ran.err.split())
    assert Path("site.toml").read_bytes() == before


def test_a_proposal_that_gives_no_plan_is_not_written(daylatch, log):
    path = Path("site.toml")
    place = "[place]\nlatitude = 61.5\nlongitude = 23.76\n"
    path.write_text(
        HOUSE.partition("[place]")[0] + place + "[open]\nlight = 0\n[close]\nlight = 0\n"
    )
    # In June it never gets so dark there, and there is no fallback.
    log_evenings(log, 40, 5.5)
    ran = daylatch("roosting", "log.csv")
    assert ran.status == 0, ran.err
    assert "A plan by it cannot be made:" in " ".join(ran.out.split())
    nothing_is_written(daylatch, "what is proposed gives no plan, so nothing was written")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (HEAD, "there is nothing to read"),
        (HEAD + "2026-09-01T18:00:00Z,opened\n", "holds no word of when the birds went in"),
        (HEAD + "2026-09-01T18:00:00Z,last_in\n", "there is 1 evening with the moment"),
        (
            HEAD + "".join(f"2026-09-{day:02}T23:00:00Z,last_in\n" for day in range(1, 20)),
            "no hen keeps that",
        ),
        (
            HEAD + "".join(f"2026-09-{day:02}T12:30:00Z,last_in\n" for day in range(1, 20)),
            "no hen keeps that",
        ),
    ],
)
def test_what_says_nothing_is_told_why(daylatch, log, content, words):
    log.write_text(content)
    ran = daylatch("roosting", "log.csv")
    assert ran.status != 0
    assert words in " ".join(ran.err.split())
    assert ran.out == ""


def test_check_and_the_report_have_one_sentence_of_it(daylatch, log):
    sentence = "Your birds go in at 4.1°, 15 min before the door shuts on 93 of 100 evenings."
    assert "Your birds" not in daylatch("check").out
    assert daylatch("diary", "import", "log.csv").status == 0
    assert sentence in " ".join(daylatch("check").out.split())
    assert daylatch("report", "--year", "2027", "-o", "report.html").status == 0
    assert sentence in Path("report.html").read_text()


def test_check_says_that_a_diary_cannot_be_read_and_goes_on(daylatch, log):
    Path("site.diary").write_text("no diary")
    ran = daylatch("check")
    assert ran.status == 0
    assert "site.diary" in ran.err
    assert "can be made" in ran.out


def test_days_on_which_a_span_kept_the_door_shut_are_left_out(daylatch, log):
    site = Path("site.toml")
    site.write_text(
        site.read_text() + "[[span]]\nfrom = 2026-09-01\nuntil = 2026-09-10\nshut = true\n"
    )
    assert as_json(daylatch)["evenings"] < 60
    assert "on which a span kept the door shut" in " ".join(
        daylatch("roosting", "log.csv").out.split()
    )


def test_so_few_evenings_move_no_door_unless_it_is_wanted(daylatch, log):
    rows(log, 11)
    found = as_json(daylatch)
    assert found["light_deg"] is not None
    assert found["proposal"] is None
    nothing_is_written(daylatch, "14 evenings carry 80 %")
    assert as_json(daylatch, "--share", "60")["proposal"]["share"] == 0.6


def test_a_door_that_would_stay_shut_is_said_and_not_written(daylatch, log):
    path = Path("site.toml")
    fallbacks = '[open]\nfallback = "05:30"\n[close]\nfallback = "22:30"\n'
    path.write_text(f"{HOUSE.partition('[place]')[0]}[place]\nlatitude = 69.65\n{fallbacks}")
    path.write_text(path.read_text().replace("69.65\n", "69.65\nlongitude = 18.96\n"))
    # Above which the Sun never comes in December there.
    log_evenings(log, 30, 1.0)
    ran = daylatch("roosting", "log.csv")
    assert ran.status == 0, ran.err
    assert "SHUT ALL DAY on" in " ".join(ran.out.split())
    nothing_is_written(daylatch, "write dark_fallback")


def test_what_is_there_already_is_not_written_again(daylatch, log):
    assert daylatch("roosting", "log.csv", "--write").status == 0
    before = Path("site.toml").read_bytes()
    ran = daylatch("roosting", "log.csv", "--write")
    assert (ran.status, ran.err) == (0, "site.toml: has these values already\n")
    assert Path("site.toml").read_bytes() == before


def test_one_entry_of_another_year_hides_nothing(daylatch, log):
    assert daylatch("diary", "import", "log.csv").status == 0
    assert daylatch("diary", "add", "2030-06-01 last in 21:00").status == 0
    ran = daylatch("roosting", "--to", "json")
    assert json.loads(ran.out)["evenings"] == 66
    assert "1 entry is still to come" in ran.err
    assert "Your birds go in at 4.1°" in " ".join(daylatch("check").out.split())


def test_the_log_itself_is_never_overwritten(daylatch, log):
    before = log.read_bytes()
    ran = daylatch("roosting", "log.csv", "--to", "csv", "-o", "log.csv", "--force")
    assert ran.status == 6
    assert "is the log itself" in ran.err
    assert log.read_bytes() == before


def test_past_days_without_a_plan_say_their_light_all_the_same(daylatch, log):
    assert daylatch("diary", "import", "log.csv").status == 0
    site = Path("site.toml")
    # The Sun does not come to 30° on those days, and there is no fallback.
    span = "[[span]]\nfrom = 2026-08-24\nuntil = 2026-08-26\nclose.light = 30\n"
    site.write_text(site.read_text() + span)
    ran = daylatch("roosting")
    words = " ".join(ran.out.split())
    assert ran.status == 0, ran.err
    assert "Sun 4.11° below the horizon" in words
    assert "The rules of today give no plan of those days: 2026-08-24" in words
    assert "give no plan of those evenings" in " ".join(daylatch("check").out.split())
    assert daylatch("report", "--year", "2027", "-o", "report.html").status == 0
    # A picture shows the door, too.
    assert daylatch("roosting", "-o", "evenings.svg").status == 4


def test_a_report_is_made_though_the_diary_cannot_be_read(daylatch, log, tmp_path):
    site = Path("site.toml")
    site.write_text(re.sub(r"\[flock\]\nbirds.*\n", "[flock]\n", site.read_text()))
    Path("site.diary").write_text("no diary")
    ran = daylatch("report", "--year", "2027", "-o", "report.html")
    assert ran.status == 0, ran.err
    assert "site.diary" in ran.err


def test_any_rules_can_be_held_against_the_evenings(daylatch, log):
    now, other = as_json(daylatch, "--with", "close.light=4.11", "--with", "close.offset_min=0")[
        "rules"
    ]
    assert (now["settings"], now["in_time"], now["evenings"]) == (None, 65, 66)
    # 66 evenings with one late carry as much, by the Clopper-Pearson bound.
    exact = beta.ppf(0.05, 65, 2)
    assert 0 <= exact - now["at_least"] < 0.01
    assert now["ahead"]["share"] == now["at_least"] == 0.93
    assert other["settings"] == "close.light=4.11 close.offset_min=0"
    # Half of them are in by the median light; each may be half of the log's step later.
    assert 15 <= other["in_time"] <= 33
    assert other["ahead"] == {"share": 0.95, "minutes": other["ahead"]["minutes"]}
    assert other["ahead"]["minutes"] < 0 <= now["ahead"]["minutes"]
    words = " ".join(daylatch("roosting", "log.csv", "--with", "close.offset_min=0").out.split())
    assert "As it is all were in before it shuts on 65 of 66 evenings; that is 93 %" in words
    assert "close.offset_min=0 all were in" in words


def test_rules_that_cannot_be_are_refused(daylatch, log):
    ran = daylatch("roosting", "log.csv", "--with", "close.offset=3")
    assert ran.status != 0
    assert "close.offset" in ran.err
