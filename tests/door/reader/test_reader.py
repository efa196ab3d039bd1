"""The reader in C, by a compiler, both sanitizers and a simulated controller."""

from __future__ import annotations

import ctypes
import datetime as dt
import io
import random
import re
import struct
import subprocess
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from daylatch.door.reader import FILES
from daylatch.door.reader.compiled import CompiledReader, load_library
from daylatch.door.simulate.simulated_door import ClockTroubles, simulate
from daylatch.door.table import TableWish
from daylatch.door.table.decode import STAYS_SHUT, decode
from daylatch.door.table.encode import encode
from daylatch.door.table.format import TableError, check_of
from daylatch.files.occasion import Occasion
from daylatch.plan.plan import make_plan
from door.table.test_table import CASES, WIDE_RULES, sealed
from peers.table_reader import read_door, read_table
from plan_forms import get_writer
from programs import needs
from sites import LORD_HOWE, UTRECHT, Spot, site

ROOT = Path(__file__).resolve().parents[3]
SOURCE = ROOT / "src/daylatch/door/reader"
HARNESS = ROOT / "tests/door/reader/c"
STAMP = dt.datetime(2027, 1, 1, tzinfo=dt.UTC)
EPOCH = dt.date(2000, 1, 1)
WARNINGS = ("-Wall", "-Wextra", "-Werror", "-pedantic", "-Wconversion", "-Wsign-conversion")
WARNINGS += ("-Wshadow",)
C99 = ("-std=c99", *WARNINGS)
# For every controller of these kinds; size counts.
AVR = ("-Os", "-mmcu=atmega328p")
AVR_SMALL = (*AVR, "-flto", "-mrelax", "-mcall-prologues")
CORTEX = ("-Os", "-mcpu=cortex-m0plus", "-mthumb")
MORE_THAN_A_DAY = [case for case in CASES if case.id != "one day"]
STATES = {0: "unknown", 1: "shut", 2: "open"}
STAYS, NO_ROW, NO_TIME = -32768, -32767, -32766
NO_DATE = 0xFFFF
LAST_KNOWN = (dt.date(2099, 12, 31) - EPOCH).days
AUCKLAND = Spot(-36.85, 174.76, "Pacific/Auckland")
HONOLULU = Spot(21.31, -157.86, "Pacific/Honolulu")


def run(*command, **options):
    done = subprocess.run(command, capture_output=True, check=False, timeout=120, **options)
    assert done.returncode == 0, done.stderr.decode(errors="replace")
    return done.stdout


@pytest.fixture(scope="module")
def a_year():
    """Return a plan and its table, as in the first of the cases."""
    return table_of(*CASES[0].values)


@pytest.fixture(scope="module")
def with_table(a_year, tmp_path_factory):
    """Return a folder with a year's table as a C header."""
    folder = tmp_path_factory.mktemp("table")
    header = get_writer("table").render(a_year[0], Occasion(STAMP), wish=TableWish("c"))
    (folder / "table.h").write_bytes(header)
    return folder


@pytest.fixture(scope="module")
def host(tmp_path_factory):
    """Return the reader as a program that stops at the first fault."""
    program = tmp_path_factory.mktemp("host") / "reader"
    sanitizers = ("-g", "-fsanitize=address,undefined", "-fno-sanitize-recover=all")
    run("gcc", *C99, *sanitizers, f"-I{SOURCE}", str(HARNESS / "reader_host.c"), "-o", str(program))
    return program


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    return load_library(tmp_path_factory.mktemp("library"), "-Wall", "-Werror")


class Answers:
    """What the program said of one table."""

    def __init__(self, stream, first, last, step):
        self.status, self.last = struct.unpack("<BH", stream.read(3))
        self.times, self.doors = {}, {}
        for date in range(first, last + 1):
            self.times[date] = struct.unpack("<hh", stream.read(4))
            self.doors[date] = stream.read(len(range(0, 1440, step)) if step else 0)


def ask_host(host, questions):
    """Return the program's answers to (table, first date, last date, step in minutes)."""
    text = b""
    for table, first, last, step in questions:
        text += struct.pack("<H", len(table)) + table + struct.pack("<HHH", first, last, step)
    stream = io.BytesIO(run(str(host), input=text))
    assert stream.read(2) == bytes([0xB1, 0x29])  # CRC-16/CCITT-FALSE of 123456789: 0x29B1
    answers = [Answers(stream, first, last, step) for _, first, last, step in questions]
    assert stream.read() == b""
    return answers


@cache
def table_of(spot, rules, first, last, clock="wall", width=0):
    here = site(spot, f'{rules}[door]\nclock = "{clock}"\n')
    plan = make_plan(here, dt.date.fromisoformat(first), dt.date.fromisoformat(last))
    return plan, encode(plan, within_min=width)


def test_the_check_is_the_named_one():
    # CRC-16/CCITT-FALSE, check value as in the catalogue of parametrised CRC algorithms.
    assert check_of(b"123456789") == 0x29B1


COMPILERS = {
    "C99": ("gcc", *C99),
    "C++11": ("g++", "-x", "c++", "-std=c++11", *WARNINGS),
    "AVR": ("avr-gcc", *AVR, *C99),
    "Cortex-M0+": ("arm-none-eabi-gcc", *CORTEX, *C99),
}
# What needs the sockets of POSIX is for no such controller.
COMPILED = [
    pytest.param(name, command, id=f"{name}-{kind}", marks=needs(command[0]))
    for name in FILES
    for kind, command in COMPILERS.items()
    if name.endswith(".c") and (name != "networked_door.c" or command[0] in ("gcc", "g++"))
]


@pytest.mark.parametrize(("name", "compiler"), COMPILED)
@needs("gcc")
def test_it_compiles_without_a_warning(name, compiler, with_table, tmp_path):
    out = tmp_path / "out.o"
    run(*compiler, f"-I{with_table}", "-c", str(SOURCE / name), "-o", str(out))


@needs("gcc")
@pytest.mark.parametrize(("spot", "rules", "first", "last", "clock", "width"), MORE_THAN_A_DAY)
def test_door_and_plan_agree_at_every_minute(spot, rules, first, last, clock, width, library):
    plan, table = table_of(spot, rules, first, last, clock, width)
    reader = CompiledReader(library, table)
    assert reader.status == 0
    found = simulate(plan, reader.doors, ClockTroubles())
    assert max((d.minutes for d in found.differences()), default=0) <= width
    assert np.count_nonzero(~found.knows) <= 0.1 * found.knows.size


@needs("gcc")
@pytest.mark.parametrize(("spot", "rules", "first", "last", "clock", "width"), CASES)
def test_every_date_and_minute_is_answered_as_the_page_says(
    spot, rules, first, last, clock, width, host
):
    _, table = table_of(spot, rules, first, last, clock, width)
    inner = decode(table)
    ends = ((inner.first - EPOCH).days - 3, (inner.last - EPOCH).days + 3)
    step = 19 if inner.head.days > 70 else 5
    (said,) = ask_host(host, [(table, *ends, step)])
    assert (said.status, said.last) == (0, (inner.last - EPOCH).days)
    ask, door = read_table(table), read_door(table)
    for number, times in said.times.items():
        date = EPOCH + dt.timedelta(days=number)
        if inner.first <= date <= inner.last:
            wanted = {"shut": (STAYS, STAYS), "no row": (NO_ROW, NO_ROW)}.get(ask(date), ask(date))
        else:
            wanted = (NO_TIME, NO_TIME)
        assert times == wanted
    for number in said.doors:
        midnight = dt.datetime.combine(EPOCH + dt.timedelta(days=number), dt.time())
        for index, state in enumerate(said.doors[number]):
            when = midnight + dt.timedelta(minutes=index * step)
            assert STATES[state] == door(when), when


@needs("gcc")
@pytest.mark.parametrize("spot", [AUCKLAND, HONOLULU], ids=["east", "west"])
def test_in_utc_the_first_and_the_last_movement_are_told_far_from_greenwich(spot, library):
    plan, table = table_of(spot, "", "2027-06-01", "2027-06-05", "utc")
    reader = CompiledReader(library, table)

    def door(instant):
        date = instant.astype("datetime64[D]")
        minute = (instant - date) // np.timedelta64(1, "m")
        return STATES[reader.door((date.item() - EPOCH).days, int(minute))]

    minute = np.timedelta64(1, "m")
    assert door(plan.open_utc[0] - minute) == "unknown"
    assert door(plan.open_utc[0]) == "open"
    assert door(plan.close_utc[-1] - minute) == "open"
    assert door(plan.close_utc[-1]) == "shut"


@needs("gcc")
def test_what_is_not_known(library, a_year):
    reader = CompiledReader(library, a_year[1])
    day = (dt.date(2027, 5, 5) - EPOCH).days
    assert STATES[reader.door(day, 720)] == "open"
    for date, minute in ((day, 1440), (day, 65535), (0xFFFF, 720), (36525, 0), (0, 0)):
        assert STATES[reader.door(date, minute)] == "unknown"
    first = (dt.date(2027, 1, 1) - EPOCH).days
    assert [STATES[reader.door(first, minute)] for minute in (0, 720, 1439)] == [
        *("unknown", "open", "shut")
    ]
    broken = CompiledReader(library, a_year[1][:-1])
    assert broken.status == 1
    assert STATES[broken.door(day, 720)] == "unknown"
    assert broken.time(day, 0) == NO_TIME
    assert broken.last() == NO_DATE


@needs("gcc")
def test_dates_are_numbered_as_the_calendar_has_them(library):
    number = library.daylatch_date
    for ahead in range(36525):
        date = EPOCH + dt.timedelta(days=ahead)
        assert number(date.year, date.month, date.day) == ahead
    for wrong in ((1999, 12, 31), (2100, 1, 1), (2027, 0, 5), (2027, 13, 5), (2027, 2, 29)):
        assert number(*wrong) == 0xFFFF
    for wrong in ((2027, 4, 31), (2027, 4, 0), (2028, 2, 30), (65535, 1, 1), (2027, 255, 255)):
        assert number(*wrong) == 0xFFFF


@needs("gcc")
def test_every_flipped_bit_is_refused(host):
    _, table = table_of(UTRECHT, WIDE_RULES, "2027-01-20", "2027-04-20")
    damaged = []
    for place in range(len(table) * 8):
        other = bytearray(table)
        other[place // 8] ^= 1 << place % 8
        damaged.append((bytes(other), 9900, 9900, 720))
    damaged += [(table[:end], 9900, 9900, 720) for end in range(len(table))]
    for said in ask_host(host, damaged):
        assert said.status != 0
        assert said.last == NO_DATE
        assert said.times[9900] == (NO_TIME, NO_TIME)
        assert set(said.doors[9900]) == {0}


def hostile_tables():
    """Return bytes that a good check belongs to, and most of which say what cannot be."""
    chance = random.Random(12)
    bases = [
        table_of(UTRECHT, WIDE_RULES, "2027-01-20", "2027-04-20")[1],
        table_of(LORD_HOWE, "", "2027-03-01", "2027-11-30", "wall", 2)[1],
    ]
    for _ in range(3000):
        content = bytearray(chance.choice(bases)[:-2])
        for _ in range(chance.randint(1, 4)):
            content[chance.randrange(2, len(content))] = chance.choice(
                (0, 1, 0x7F, 0x80, 0xE0, 0xFF, *range(0xF0, 0xF8), chance.randrange(256))
            )
        yield sealed(content[: chance.choice((len(content), chance.randrange(15, 90)))])
    for _ in range(1500):
        # A head that holds, and any streams.
        streams = bytes(
            chance.choice((0xF5, 3, 0xE0, 0x20, chance.randrange(256))) for _ in range(20)
        )
        flags, days = chance.choice((0, 1, 4, 24)), chance.randint(1, 12)
        opening = chance.randint(0, 12)
        yield sealed(
            struct.pack("<2sBBHHHBbBH", b"\xda\x7c", 1, flags, 0, 9900, days, 0, 0, 0, opening)
            + streams
        )


@needs("gcc")
def test_hostile_bytes_with_a_good_check_end_in_a_status_and_are_read_as_the_page_says(host):
    tables = list(hostile_tables())
    said = ask_host(host, [(table, 9895, 9990, 360) for table in tables])
    good = 0
    for table, answer in zip(tables, said, strict=True):
        try:
            inner = decode(table)
        except TableError:
            assert (answer.status != 0, answer.last) == (True, NO_DATE), table.hex()
            continue
        assert answer.status == 0, table.hex()
        assert answer.last == min((inner.last - EPOCH).days, LAST_KNOWN)
        good += 1
        for number, times in answer.times.items():
            date = EPOCH + dt.timedelta(days=number)
            if inner.first <= date <= inner.last:
                values = inner.on(date)
                words = {id(STAYS_SHUT): STAYS, id(None): NO_ROW}
                assert times == tuple(words.get(id(value), value) for value in values)
            else:
                assert times == (NO_TIME, NO_TIME)
    assert good > 100


@needs("gcc")
def test_a_table_for_every_year_is_read_by_month_and_day(library):
    here = site(UTRECHT)
    plan = make_plan(here, dt.date(2027, 1, 1), dt.date(2030, 12, 31))
    table = encode(plan, every_year=True)
    reader, inner = CompiledReader(library, table), decode(table)
    for date in plan.dates.tolist():
        said = tuple(reader.time((date - EPOCH).days, closing) for closing in (0, 1))
        assert said == inner.on(date)
    # It ends, too: with the last of its years.
    last = reader.last()
    assert EPOCH + dt.timedelta(days=last) == inner.last == dt.date(2030, 12, 31)
    assert reader.time(last + 1, 0) == NO_TIME
    assert STATES[reader.door(last + 1, 720)] == "unknown"


@needs("gcc")
@pytest.mark.parametrize(
    ("first", "days", "last"),
    [
        ("2027-01-01", 1, "2027-01-01"),
        ("2027-12-30", 2, "2027-12-31"),
        ("2028-02-27", 3, "2028-02-29"),
        ("2000-01-01", 1, "2000-01-01"),
        ("2099-12-30", 2, "2099-12-31"),
        ("2099-12-30", 9, "2099-12-31"),  # the reader knows no date behind it
    ],
)
def test_the_last_date_is_the_last_that_is_answered(first, days, last, library):
    begins = (dt.date.fromisoformat(first) - EPOCH).days
    # Holds at 06:40 and 18:40 for as many days.
    streams = b"".join(struct.pack("<BhBB", 0, minute, 0xF4, days) for minute in (400, 1120))
    table = sealed(
        struct.pack("<2sBBHHHBbBH", b"\xda\x7c", 1, 0, 0, begins, days, 0, 0, 0, 5) + streams
    )
    reader = CompiledReader(library, table)
    assert reader.status == 0
    assert EPOCH + dt.timedelta(days=reader.last()) == dt.date.fromisoformat(last)
    assert decode(table).last >= dt.date.fromisoformat(last)
    assert reader.time(reader.last(), 1) == 1120
    assert reader.time(reader.last() + 1, 1) == NO_TIME


def avr_elf(with_table, tmp_path, options):
    program = tmp_path / "reader.elf"
    sources = (str(HARNESS / "reader_avr.c"), str(SOURCE / "daylatch_reader.c"))
    run("avr-gcc", *C99, *options, f"-I{SOURCE}", f"-I{with_table}", *sources, "-o", str(program))
    return program


@needs("avr-gcc")
@needs("simavr")
def test_an_8_bit_controller_answers_alike(a_year, with_table, tmp_path, record_property):
    program = avr_elf(with_table, tmp_path, AVR_SMALL)
    done = subprocess.run(
        ["simavr", "-m", "atmega328p", "-f", "16000000", str(program)],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    numbers = [int(word, 16) for word in re.findall(r"([0-9A-F]{8})\.", done.stdout + done.stderr)]
    status, last, times, doors, *costs = numbers
    plan, table = a_year
    assert (status, EPOCH + dt.timedelta(days=last)) == (0, decode(table).last)
    ask, door = read_table(table), read_door(table)
    wanted, states = b"", b""
    for date in plan.dates.tolist():
        said = ask(date)
        wanted += struct.pack("<hh", *((STAYS, STAYS) if said == "shut" else said))
        midnight = dt.datetime.combine(date, dt.time())
        for minute in range((date - EPOCH).days % 32, 1440, 37):
            state = door(midnight + dt.timedelta(minutes=minute))
            states += bytes([{"unknown": 0, "shut": 1, "open": 2}[state]])
    assert (times, doors) == (check_of(wanted), check_of(states))
    start_bytes, time_bytes, door_bytes, time_cycles, door_cycles = costs
    record_property(
        "measured",
        f"reader, AVR: deepest stack {start_bytes} B to start, {time_bytes} B to look up, "
        f"{door_bytes} B to ask (aim 20); at 16 MHz at most {time_cycles / 16000:.2f} ms to look "
        f"up, {door_cycles / 16000:.2f} ms to ask",
    )
    assert max(start_bytes, time_bytes, door_bytes) <= 40
    assert door_cycles < 16000 * 4


@needs("avr-gcc")
def test_what_it_adds_to_a_program_on_an_8_bit_controller(with_table, tmp_path, record_property):
    whole = tmp_path / "whole.c"
    whole.write_text(
        '#include <avr/pgmspace.h>\n#define DAYLATCH_TABLE_STORAGE PROGMEM\n#include "table.h"\n'
        '#include "daylatch_reader.h"\n#include <avr/io.h>\n'
        "int main(void) {\n#ifdef WITH_READER\ndaylatch_reader reader;\n"
        "GPIOR0 = daylatch_start(&reader, daylatch_table, sizeof daylatch_table);\n"
        "GPIOR0 = daylatch_door(&reader, daylatch_date(GPIOR1, GPIOR2, GPIOR0), GPIOR1);\n"
        "#else\nGPIOR0 = pgm_read_byte(daylatch_table + GPIOR1);\n#endif\nreturn 0;\n}\n"
    )
    sizes = []
    for define in ("WITHOUT_READER", "WITH_READER"):
        program = tmp_path / f"{define}.elf"
        run(
            *("avr-gcc", "-std=c99", *AVR_SMALL, f"-D{define}", f"-I{SOURCE}", f"-I{with_table}"),
            *(str(whole), str(SOURCE / "daylatch_reader.c"), "-o", str(program)),
        )
        sizes.append(int(run("avr-size", str(program)).decode().splitlines()[1].split()[0]))
    record_property(
        "measured",
        f"reader, AVR: {sizes[1] - sizes[0]} B of a program that starts and asks (aim 1200)",
    )
    assert sizes[1] - sizes[0] <= 1850


@needs("avr-gcc")
def test_it_is_small_and_has_no_memory_of_its_own(tmp_path, record_property):
    out = tmp_path / "reader.o"
    run(
        *("avr-gcc", *C99, *AVR, "-fstack-usage", "-c", str(SOURCE / "daylatch_reader.c")),
        *("-o", str(out)),
    )
    sizes = run("avr-size", "-A", str(out)).decode()
    section = dict(re.findall(r"^(\.\S+)\s+(\d+)", sizes, re.MULTILINE))
    assert (section[".data"], section[".bss"]) == ("0", "0")
    assert not any(name.startswith(".rodata") for name in section)
    frames = re.findall(r"(\w+)\t(\d+)\tstatic", out.with_suffix(".su").read_text())
    assert max(int(size) for _, size in frames) <= 20
    undefined = run("avr-nm", "-u", str(out)).decode().split()
    # No allocation, no float, no division, no printing: nothing of a library but what the compiler
    # needs to save registers.
    assert not set(undefined) - {"U", "__do_copy_data", "__do_clear_bss"}
    code = int(section[".text"]) + sum(
        int(size) for name, size in section.items() if name.startswith(".progmem")
    )
    record_property(
        "measured",
        f"reader, AVR: {code} B of code with everything (aim 1200); a function's own stack at most "
        f"{max(int(size) for _, size in frames)} B (aim 20); no memory of its own",
    )
    assert code <= 2100


@pytest.fixture(scope="module")
def counted(tmp_path_factory):
    """Return the reader with a counter of its steps, one a stretch of code without a branch."""
    folder = tmp_path_factory.mktemp("counted")
    (folder / "count.c").write_text(
        "unsigned long steps;\nvoid __sanitizer_cov_trace_pc(void);\n"
        "void __sanitizer_cov_trace_pc(void) { steps++; }\n"
    )
    run("gcc", "-c", "-fPIC", str(folder / "count.c"), "-o", str(folder / "count.o"))
    library = folder / "counted.so"
    run(
        *("gcc", *C99, "-shared", "-fPIC", "-fsanitize-coverage=trace-pc", f"-I{SOURCE}"),
        *(str(SOURCE / "daylatch_reader.c"), str(folder / "count.o"), "-o", str(library)),
    )
    return ctypes.CDLL(str(library))


def shut_every_other_day(pairs):
    """Return a table whose streams have as many tokens as they can."""
    streams = [
        struct.pack("<Bh", 0, minute) + bytes([0x00, 0xF5, 1]) * pairs for minute in (400, 1000)
    ]
    head = struct.pack(
        "<2sBBHHHBbBH", b"\xda\x7c", 1, 2, 0, 9900, 2 * pairs, 0, 0, 0, len(streams[0])
    )
    return sealed(head + b"".join(streams))


@needs("gcc")
def test_a_start_takes_steps_as_the_table_is_long(counted):
    room = ctypes.create_string_buffer(256)
    steps = []
    for pairs in (1250, 2500, 5000, 10000):
        table = shut_every_other_day(pairs)
        assert decode(table).last - decode(table).first == dt.timedelta(days=2 * pairs - 1)
        begin = ctypes.c_ulong.in_dll(counted, "steps").value
        assert counted.daylatch_start(room, table, len(table)) == 0
        steps.append(ctypes.c_ulong.in_dll(counted, "steps").value - begin)
    for shorter, longer in pairwise(steps):
        assert longer < 2.1 * shorter
