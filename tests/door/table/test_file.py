"""Controller tables as files: the three forms, what is said of them, and what is refused."""

from __future__ import annotations

import datetime as dt
import io
import json
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from intelhex import IntelHex

from daylatch.cautions import CAUTION, NO_WEATHER
from daylatch.clock import zone_rules_version
from daylatch.commands.door.table import refuse_terminal
from daylatch.door.table import TableWish
from daylatch.door.table.encode import encode
from daylatch.door.table.file import describe
from daylatch.door.table.format import check_of
from daylatch.errors import UsageError
from daylatch.files.occasion import Occasion
from daylatch.plan.plan import make_plan
from peers.table_reader import read_table
from plan_forms import EXPORTS, get_writer
from programs import needs
from sites import UTRECHT, site

ROOT = Path(__file__).resolve().parents[3]
STAMP = dt.datetime(2027, 1, 1, tzinfo=dt.UTC)
WRITER = get_writer("table")
HOSTILE_NAMES = [
    "*/ int main(void)",
    "/* a ??/ b \\",
    "ends with \\",
    "h\u00fchner \U0001f414 \u4e2d",
    '"',
]


@pytest.fixture(scope="module")
def plan():
    return make_plan(site(UTRECHT), dt.date(2027, 3, 1), dt.date(2027, 4, 30))


@pytest.fixture(scope="module")
def content(plan):
    """Return the plan's table."""
    return encode(plan)


def rendered(plan, **wish):
    return WRITER.render(plan, Occasion(STAMP), wish=TableWish(**wish))


def read_records(text):
    """Read Intel HEX by its published record format (Intel, Hexadecimal Object File Format
    Specification, revision A, 1988), checksums included."""
    memory, upper, ended = {}, 0, False
    for line in text.splitlines():
        assert not ended
        record = bytes.fromhex(line.removeprefix(":"))
        assert line.startswith(":")
        assert sum(record) % 256 == 0
        count, address, kind, data = record[0], record[1:3], record[3], record[4:-1]
        assert len(data) == count
        match kind:
            case 0:
                for index, byte in enumerate(data):
                    memory[upper + int.from_bytes(address) + index] = byte
            case 1:
                ended = True
            case 4:
                upper = int.from_bytes(data) << 16
            case _:
                raise AssertionError(f"record type {kind}")
    assert ended
    return memory


@pytest.mark.parametrize("address", [0, 0x1F00, 0xFFF8, 0x0800_FF00, 0xFFFF_FE00])
def test_intel_hex_is_read_by_others(plan, content, address):
    text = rendered(plan, form="hex", address=address).decode("ascii")
    image = IntelHex(io.StringIO(text))
    assert (image.minaddr(), image.maxaddr()) == (address, address + len(content) - 1)
    assert image.tobinstr() == content
    memory = read_records(text)
    assert memory == dict(enumerate(content, address))
    assert WRITER.wrote(text.encode())


@needs("gcc")
@pytest.mark.parametrize("flags", [["-std=c99", "-x", "c"], ["-std=c++11", "-x", "c++"]])
@pytest.mark.parametrize("name", ["Test house", *HOSTILE_NAMES])
def test_the_c_header_compiles_to_the_same_bytes(plan, content, name, flags, tmp_path):
    # Two months: what a header is does not depend on how long it is, nor the table on the name.
    named = make_plan(named_site(name), plan.dates[0].item(), plan.dates[-1].item())
    header = rendered(named, form="c")
    (tmp_path / "table.h").write_bytes(header)
    (tmp_path / "main.c").write_text(
        '#include "table.h"\n#include "table.h"\n#include <stdio.h>\n'
        "int main(void) { return fwrite(daylatch_table, 1, sizeof daylatch_table, stdout)"
        " == DAYLATCH_TABLE_LENGTH ? 0 : 1; }\n"
    )
    strict = ["-Wall", "-Wextra", "-Werror", "-pedantic", "-Wconversion", "-Wshadow", "-Wtrigraphs"]
    program = tmp_path / "program"
    subprocess.run(
        ["gcc", *flags, *strict, str(tmp_path / "main.c"), "-o", str(program)], check=True
    )
    assert subprocess.run([program], capture_output=True, check=True).stdout == content


def named_site(name):
    here = site(UTRECHT)
    head = here.settings.head.model_copy(update={"name": name})
    return replace(here, settings=replace(here.settings, head=head))


@pytest.mark.parametrize("name", ["Test house", *HOSTILE_NAMES])
def test_the_headers_comment_says_what_it_is(plan, name):
    named = make_plan(named_site(name), plan.dates[0].item(), plan.dates[-1].item())
    text = rendered(named, form="c").decode()
    comment = text.partition("*/")[0]
    assert "#include" not in comment
    assert "#include <stdint.h>" in text.partition("*/")[2]
    quoted = re.search(r'Site: (".*")$', comment, re.M)[1]
    assert json.loads(quoted) == name
    words = " ".join(comment.replace(" * ", " ").split())
    for sentence in (
        "2027-03-01 to 2027-04-30",
        "the wall clock of Europe/Amsterdam",
        f"zone rules {zone_rules_version()}",
        "exact to the minute",
        "Ends on 2027-04-30: make a new one before then, or ask for --every-year with several "
        "years.",
        CAUTION,
        NO_WEATHER,
    ):
        assert sentence in words
    assert WRITER.wrote(text.encode())


def test_it_knows_its_own_files_and_no_others(plan):
    forms = [rendered(plan, form=form) for form in ("bin", "c", "hex")]
    assert all(WRITER.wrote(content) for content in forms)
    for content in forms:
        assert not WRITER.wrote(content[:-40] + content[-20:])
    for other in (
        b"",
        b":",
        b":00000001FF\n",
        b"/* daylatch controller table. */",
        b"\xda\x7c",
        b"{}",
    ):
        assert not WRITER.wrote(other)
    far_apart = b":0100000000FF\n:020000040800F2\n:0100000000FF\n:00000001FF\n"
    assert not WRITER.wrote(far_apart)
    for name in EXPORTS:
        if name != "table":
            assert not any(get_writer(name).wrote(content) for content in forms)


def test_the_example_of_the_reference_page_is_a_table():
    page = (ROOT / "docs/reference/table.md").read_text()
    rows = re.findall(r"^((?:[0-9A-F]{2} )+) {2,}", page, re.M)
    content = bytes.fromhex("".join(rows))
    ask = read_table(content)
    assert [ask(dt.date(2027, 3, day)) for day in (27, 28, 29)] == [
        (390, 1140),
        (448, 1202),
        (446, 1204),
    ]
    assert "07:28" in page
    assert "0x29B1" in page
    assert check_of(b"123456789") == 0x29B1


def test_the_command_writes_the_three_forms(daylatch, alder_row, tmp_path):
    ran = daylatch("plan", "--year", "2027", "--to", "table", "-o", "2027.bin")
    assert ran.status == 0
    content = (tmp_path / "2027.bin").read_bytes()
    match = re.fullmatch(
        r"wrote 2027\.bin: 2027-01-01 to 2027-12-31, exact to the minute, (\d+) bytes: head (\d+), "
        r"opening (\d+), closing (\d+), check 2; ends on 2027-12-31: make a new one before "
        r"then, or ask for --every-year with several years",
        ran.err.splitlines()[0],
    )
    total, *parts = (int(number) for number in match.groups())
    assert total == len(content) == sum(parts) + 2
    assert CAUTION in ran.err
    spring = ("plan", "--from", "2027-03-01", "--until", "2027-04-10", "--to", "table")
    assert daylatch(*spring, "-o", "spring.bin").status == 0
    content = (tmp_path / "spring.bin").read_bytes()
    assert daylatch(*spring, "--as", "hex", "--address", "1F00", "-o", "spring.hex").status == 0
    image = IntelHex(str(tmp_path / "spring.hex"))
    assert (image.minaddr(), image.tobinstr()) == (0x1F00, content)
    ran = daylatch(*spring, "--as", "c", "-o", "spring.h")
    assert (ran.status, len(ran.err.splitlines())) == (0, 1)
    again = daylatch(*spring, "-o", "spring.bin")
    assert again.err.splitlines()[0] == "spring.bin: already up to date"


def test_a_table_for_every_year_says_when_it_ends_and_offers_nothing_more():
    years = make_plan(site(UTRECHT), dt.date(2026, 1, 1), dt.date(2027, 12, 31))
    header = rendered(years, form="c", every_year=True)
    said = describe(header, TableWish())
    assert said.startswith("2026-01-01 to 2027-12-31, every year alike, late by at most ")
    assert said.endswith(", check 2; ends on 2027-12-31: make a new one before then")
    comment = header.decode().partition("*/")[0]
    assert " * Ends on 2027-12-31: make a new one before then.\n" in comment
    assert "--every-year" not in comment


def test_a_clock_margin_is_said_and_kept(daylatch, alder_row, tmp_path):
    dates = ("plan", "--from", "2027-03-01", "--until", "2027-04-10", "--to", "table")
    margin = (*dates, "--within", "5", "--clock-margin", "2")
    ran = daylatch(*margin, "-o", "table.bin")
    assert ran.status == 0
    assert "late by at most 5 min while the clock is within 2 min of right, " in ran.err
    assert daylatch(*margin, "--as", "c", "-o", "table.h").status == 0
    comment = (tmp_path / "table.h").read_text().partition("*/")[0]
    words = "Width: late by at most 5 min while the clock is within 2 min of right, and never early"
    assert words in comment
    daylatch(*dates, "-o", "exact.bin")
    ask, exact = (read_table((tmp_path / name).read_bytes()) for name in ("table.bin", "exact.bin"))
    date = dt.date(2027, 3, 20)
    assert all(2 <= a - b <= 3 for a, b in zip(ask(date), exact(date), strict=True))
    ran = daylatch(*dates, "--within", "3", "--clock-margin", "2", "-o", "none.bin")
    assert ran.status == 2
    assert "--within 3 leaves no minute for a table with --clock-margin 2" in ran.err
    assert not (tmp_path / "none.bin").exists()


def test_a_table_must_fit_the_memory(daylatch, alder_row, tmp_path):
    dates = ("plan", "--from", "2027-03-01", "--until", "2027-03-09", "--to", "table")
    assert daylatch(*dates, "-o", "table.bin").status == 0
    length = (tmp_path / "table.bin").stat().st_size
    assert daylatch(*dates, "--memory", str(length), "-o", "fits.bin").status == 0
    ran = daylatch(*dates, "--memory", str(length - 1), "-o", "long.bin")
    assert ran.status == 2
    assert f"--memory is {length - 1}: the table needs {length} bytes, and" in ran.err
    placed = (*dates, "--as", "hex", "--address", "0x100")
    assert daylatch(*placed, "--memory", hex(0x100 + length), "-o", "fits.hex").status == 0
    ran = daylatch(*placed, "--memory", hex(0x100 + length - 1), "-o", "past.hex")
    assert ran.status == 2
    ends = 0x100 + length - 1
    assert f"bytes from 0x100 to 0x{ends:X}, and the device ends at 0x{ends - 1:X}" in ran.err
    assert not (tmp_path / "long.bin").exists()
    assert not (tmp_path / "past.hex").exists()


def test_a_width_is_said_and_saves_bytes(daylatch, alder_row, tmp_path):
    dates = ("plan", "--from", "2027-03-01", "--until", "2027-06-30", "--to", "table")
    daylatch(*dates, "-o", "exact.bin")
    ran = daylatch(*dates, "--within", "1", "-o", "late.bin")
    assert "late by at most 1 min" in ran.err
    assert (tmp_path / "late.bin").stat().st_size < (tmp_path / "exact.bin").stat().st_size


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--as", "hex"), "--as is for controller tables: add --to table"),
        (("--within", "1"), "--within is for controller tables: add --to table"),
        (("--address", "0"), "--address is for controller tables: add --to table"),
        (("--every-year",), "--every-year is for controller tables: add --to table"),
        (("--to", "table", "--as", "elf"), '--as is "elf": write one of bin, c, hex'),
        (("--to", "table", "--within", "-1"), '--within is "-1": write how many minutes'),
        (("--to", "table", "--within", "1.5"), '--within is "1.5": write how many minutes'),
        (("--to", "table", "--within", "256"), '--within is "256": write how many minutes'),
        (("--to", "table", "--address", "10"), "--address is for Intel HEX: add --as hex"),
        (
            ("--to", "table", "--as", "hex", "--address", "zebra"),
            '--address is "zebra": write a hexadecimal number such as 0x1F00',
        ),
        (
            ("--to", "table", "--as", "hex", "--address", "-1"),
            '--address is "-1": write a hexadecimal number',
        ),
        (
            ("--to", "table", "--as", "hex", "--address", "100000000"),
            '--address is "100000000": write a hexadecimal number such as 0x1F00, at most',
        ),
        (
            ("--to", "table", "--as", "hex", "--address", "0xFFFFFFF8"),
            "would reach past 0xFFFFFFFF",
        ),
        (("--to", "table", "--every-year"), "--every-year needs whole years"),
        (("--clock-margin", "1"), "--clock-margin is for controller tables: add --to table"),
        (("--memory", "64"), "--memory is for controller tables: add --to table"),
        (
            ("--to", "table", "--clock-margin", "-1"),
            '--clock-margin is "-1": write how many minutes the controller\'s clock may be wrong',
        ),
        (("--to", "table", "--clock-margin", "128"), "a whole number from 0 to 127"),
        (("--to", "table", "--memory", "0"), '--memory is "0": write how many bytes'),
        (("--to", "table", "--memory", "1 kB"), '--memory is "1 kB": write how many bytes'),
        (("--to", "table", "--memory", "0x1FFFFFFFF"), "at most 0x100000000"),
        (("--to", "table", "--memory", "20"), "--memory is 20: the table needs"),
        (
            ("--to", "table", "--as", "hex", "--address", "0x1F00", "--memory", "512"),
            "--address is 0x1F00: lies past the device, whose --memory of 512 bytes ends at 0x1FF",
        ),
        (
            ("--to", "table", "--as", "hex", "--address", "0x200", "--memory", "512"),
            "--address is 0x200: lies past the device",
        ),
    ],
)
def test_bad_input_gets_one_message_and_no_file(daylatch, alder_row, tmp_path, arguments, message):
    before = set(tmp_path.iterdir())
    ran = daylatch(
        "plan", "--from", "2027-03-01", "--until", "2027-03-09", "-o", "file", *arguments
    )
    assert ran.status == 2
    assert message in ran.err
    assert ran.err.count("\n") == 1
    assert set(tmp_path.iterdir()) == before


def test_bytes_are_not_printed_to_a_terminal(monkeypatch):
    class Terminal(io.StringIO):
        def isatty(self):
            return True

    monkeypatch.setattr(sys, "stdout", Terminal())
    with pytest.raises(UsageError, match="a binary table is not for a terminal: add -o FILE"):
        refuse_terminal(TableWish(), None)
    refuse_terminal(TableWish(), Path("2027.bin"))
    refuse_terminal(TableWish("hex"), None)


def test_bytes_go_through_a_pipe(alder_row, tmp_path):
    dates = ["--from", "2027-03-01", "--until", "2027-03-09"]
    done = subprocess.run(
        [sys.executable, "-m", "daylatch", "plan", *dates, "--to", "table"],
        cwd=tmp_path,
        capture_output=True,
        check=True,
    )
    assert read_table(done.stdout)(dt.date(2027, 3, 5))[0] >= 390
    assert CAUTION.encode() in done.stderr
