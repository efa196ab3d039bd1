"""Millions of mutated controller tables through the reader in C, with both sanitizers.

Every answer must be a status or a time that can be, with no report of a sanitizer, no crash and no
hang. A sample is compared with the reader written from the reference page
(`peers.table_reader`): the same tables refused, and the same answers for the others.
"""

from __future__ import annotations

import argparse
import datetime as dt
import io
import struct
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from daylatch.door.table.encode import encode
from door.reader.test_reader import C99, EPOCH, NO_DATE, NO_ROW, NO_TIME, SOURCE, STATES, STAYS
from door.table.test_table import LATE, WIDE_RULES
from peers.table_reader import RefusedError, read_door, read_table
from sites import LORD_HOWE, TAMPERE, UTRECHT
from sites import plan as plan_of

ASKED = 8
LAST_KNOWN = (dt.date(2099, 12, 31) - EPOCH).days
SANITIZERS = ("-g", "-O1", "-fsanitize=address,undefined", "-fno-sanitize-recover=all")


def bases():
    """Return tables to mutate: short and long, exact and wide, with changes of the clock."""
    short = plan_of(UTRECHT, "2027-01-20", "2027-04-20", WIDE_RULES)
    clock = plan_of(LORD_HOWE, "2027-03-01", "2027-11-30")
    late = plan_of(TAMPERE, "2027-03-01", "2027-06-15", LATE)
    years = plan_of(UTRECHT, "2027-01-01", "2028-12-31")
    return [
        encode(short),
        encode(clock, within_min=2),
        encode(late),
        encode(years, every_year=True),
    ]


def in_order(ask, first, days, date):
    """Return whether the movements about a date follow each other in time, as in any plan.

    For other tables the page does not say what the door should be.
    """
    minutes = []
    for day in range(max(first, date - 3), min(first + days, date + 4)):
        said = ask(EPOCH + dt.timedelta(days=day))
        if not isinstance(said, str):
            minutes += [1440 * day + minute for minute in said]
    return minutes == sorted(minutes)


def compare(stream, tables):
    """Compare with the other reader; return how many it read, doors among them, and refused."""
    read = refused = doors = 0
    for _ in range(tables):
        (length,) = struct.unpack("<H", stream.read(2))
        table = stream.read(length)
        status, last = struct.unpack("<BH", stream.read(3))
        answers = [struct.unpack("<HhhHB", stream.read(9)) for _ in range(ASKED)]
        try:
            ask, door = read_table(table), read_door(table)
        except RefusedError:
            assert status != 0, f"only C reads {table.hex()}"
            refused += 1
            continue
        assert status == 0, f"only C refuses, with {status}, {table.hex()}"
        first, days = struct.unpack("<HH", table[6:10])
        assert last == min(first + days - 1, LAST_KNOWN), table.hex()
        read += 1
        for date, opening, closing, minute, state in answers:
            day = EPOCH + dt.timedelta(days=date)
            if date == NO_DATE or date > LAST_KNOWN:
                wanted, should = (NO_TIME, NO_TIME), "unknown"
            else:
                known = first <= date < first + days
                said = ask(day) if known else (NO_TIME, NO_TIME)
                wanted = {"shut": (STAYS, STAYS), "no row": (NO_ROW, NO_ROW)}.get(said, said)
                midnight = dt.datetime.combine(day, dt.time())
                should = door(midnight + dt.timedelta(minutes=minute))
            assert (opening, closing) == wanted, f"{day}: {table.hex()}"
            if in_order(ask, first, days, date):
                doors += 1
                assert STATES[state] == should, f"{day}, minute {minute}: {table.hex()}"
    return read, doors, refused


def main():
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--count", type=int, default=3_000_000)
    parser.add_argument("--sample", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    print(f"mutated tables: seed {options.seed}", flush=True)
    begun = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        program = str(Path(folder) / "mutated")
        source = Path(__file__).with_suffix(".c")
        # It also uses the time limit of POSIX.
        posix = "-D_POSIX_C_SOURCE=200809L"
        subprocess.run(
            ["gcc", *C99, posix, *SANITIZERS, f"-I{SOURCE}", str(source), "-o", program], check=True
        )
        given = b"".join(struct.pack("<H", len(table)) + table for table in bases())
        one_of = max(1, options.count // options.sample)
        command = [program, str(options.seed), str(options.count), str(one_of)]
        done = subprocess.run(command, input=given, capture_output=True, check=False)
    sys.stdout.write(f"  {done.stderr.decode()}")
    if done.returncode != 0:
        print(f"  FAILED with {done.returncode}")
        return 1
    read, doors, refused = compare(io.BytesIO(done.stdout), -(-options.count // one_of))
    print(
        f"  compared with the other reader: {read} read alike ({doors} doors), "
        f"{refused} refused alike ({time.monotonic() - begun:.0f} s)"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
