"""The documentation: what it shows is what the program does."""

from __future__ import annotations

import io
import json
import re
import subprocess
import sys
import tomllib
from contextlib import redirect_stdout
from pathlib import Path

import jsonschema
import pytest

from daylatch.site.starter.text import Start, starter_text

ROOT = Path(__file__).resolve().parent.parent
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])


def test_generated_pages_schema_picture_and_plans_are_current():
    done = subprocess.run(
        [sys.executable, "tools/generate.py", "--check"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr


def test_the_python_page_prints_what_it_says(monkeypatch):
    monkeypatch.chdir(ROOT)
    text = (ROOT / "docs/reference/python.md").read_text()
    code = re.search(r"```python\n(.*?)```", text, re.S)[1]
    shown = re.search(r"```text\n(.*?)```", text, re.S)[1]
    out = io.StringIO()
    with redirect_stdout(out):
        exec(compile(code, "python.md", "exec"), {})
    assert out.getvalue() == shown


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_links_lead_somewhere(page):
    for target in re.findall(r"\]\(([^)#\s]+)", page.read_text()):
        if not target.startswith(("http:", "https:", "mailto:")):
            assert (page.parent / target).exists(), target


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_page_can_be_reached_from_an_index(page):
    indexes = [ROOT / "README.md", ROOT / "docs/README.md", ROOT / "DEVELOPERS.md"]
    linked = {
        (index.parent / target).resolve()
        for index in indexes
        for target in re.findall(r"\]\(([^)#\s]+)", index.read_text())
    }
    assert page.resolve() in linked | {ROOT / "README.md"}


def test_every_toml_block_of_the_docs_is_good_toml():
    blocks = [
        block
        for page in PAGES
        for block in re.findall(r"```toml\n(.*?)```", page.read_text(), re.S)
    ]
    assert blocks
    for block in blocks:
        tomllib.loads(block)


def test_the_diarys_page_shows_the_audit_as_it_is():
    page = (ROOT / "docs/how-to/diary.md").read_text()
    (shown,) = re.findall(r"```text\n(Open at night.*?)```", page, re.S)
    assert shown in (ROOT / "schedules/alder-row-audit-2026.txt").read_text()


def test_the_page_of_the_flocks_light_shows_the_text_as_it_is():
    page = (ROOT / "docs/how-to/roosting.md").read_text()
    (shown,) = re.findall(r"```text\n(Your birds.*?)```", page, re.S)
    assert shown in (ROOT / "schedules/alder-row-roosting-2026.txt").read_text()


def test_the_page_of_power_shows_the_text_as_it_is():
    page = (ROOT / "docs/how-to/power.md").read_text()
    (shown,) = re.findall(r"```text\n(The battery.*?)```", page, re.S)
    assert shown in (ROOT / "schedules/sallow-end-power-2027.txt").read_text()


def test_the_page_of_direct_sun_shows_the_text_as_it_is():
    page = (ROOT / "docs/how-to/sunlight.md").read_text()
    (shown,) = re.findall(r"```text\n(Without sun.*?)```", page, re.S)
    assert shown in (ROOT / "schedules/fjord-end-sunlight-2027.txt").read_text()


SCHEMA = json.loads((ROOT / "docs/reference/site.schema.json").read_text())


@pytest.mark.parametrize("path", sorted((ROOT / "schedules").glob("*.toml")), ids=lambda p: p.name)
def test_the_schema_takes_every_demo_site(path):
    # TOML's own dates are strings to a schema.
    data = json.loads(json.dumps(tomllib.loads(path.read_text()), default=str))
    jsonschema.Draft202012Validator(SCHEMA).validate(data)


def test_the_schema_takes_a_new_file_and_refuses_slips():
    start = Start(
        "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11", "x", 52.0, 5.0, "", "UTC", None, None, 2027
    )
    data = tomllib.loads(starter_text(start))
    validator = jsonschema.Draft202012Validator(SCHEMA)
    validator.validate(data)
    validator.validate(tomllib.loads(starter_text(start, everything=True)))
    for change in (
        {"colour": "red"},
        {"place": {"latitude": 95, "longitude": 5}},
        {"open": {"not_befor": "06:30"}},
        {"open": {"not_before": "6 o'clock"}},
        {"door": {"clock": "sundial"}},
        {"span": [{"from": "2027-01-01"}]},
    ):
        assert not validator.is_valid(data | change), change


def test_the_readmes_commands_are_those_of_the_makefile():
    readme, makefile = (ROOT / "README.md").read_text(), (ROOT / "Makefile").read_text()
    for target in re.findall(r"^make (\w+)", readme, re.M):
        assert re.search(rf"^{target}:", makefile, re.M)
