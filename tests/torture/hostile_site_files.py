"""Ten thousand hostile site files through the commands that read one.

Each is a good file of which some values, keys, tables or bytes were made hostile: huge and odd
numbers, odd zones, control and bidirectional characters, nested tables, wrong types, nothing, bytes
that are no text. `check`, `plan` and `explain` must end with a documented status and one message,
with nothing in it that a terminal obeys, and change nothing on disk but the plan asked for.

``--only N`` repeats one file, and prints it.
"""

from __future__ import annotations

import argparse
import contextlib
import functools
import io
import random
import re
import shutil
import sys
import tempfile
import time
import traceback
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import typer.main

from daylatch.__main__ import run
from daylatch.site.starter.text import Start, starter_text

# The tree of commands is made anew at each run, which would take most of the time.
typer.main.get_command = functools.cache(typer.main.get_command)

ROOT = Path(__file__).resolve().parents[2]
COMMANDS = {
    "check": ("check", "site.toml"),
    "plan": ("plan", "site.toml", "--from", "2027-03-20", "--until", "2027-04-10", "-o", "p.csv"),
    "explain": ("explain", "2027-06-21"),
}
# What a bad file may end in: docs/reference/exit-statuses.md. Neither 5 (the second opinion) nor 70
# (trouble that nobody foresaw) may come of a file.
STATUSES = {0, 2, 3, 4, 6}
OWN_WORDS = ("daylatch: ", "warning: ", "wrote p.csv: ")
VALUES = (
    *("0", "-0", "-1", "1", "3.5", "-0.0", "90", "180", "-180.0001", "1_000", "0x7fffffff"),
    *("9" * 400, "-" + "9" * 5000, "1e308", "1e400", "-1e-400", "nan", "+inf", "-inf"),
    *("9223372036854775808", "18446744073709551616", "0b1", "0o7", "00", "1__0", "1e", "+", "-"),
    *("true", "false", "yes", "", "=", "none", "null", "'", '"', '"""', "'''", "[", "]", "{", "}"),
    *("[]", "{}", "[[]]", "[1, 'a', {}]", "[{}]", "{a = {b = {c = 1}}}", "[1, 2, 3]", "[nan]"),
    *('""', '" "', '"\\u0000"', '"\\u001b[2J"', '"\\u202eabc"', '"a\\u2066b"', '"\\ud800"'),
    *(
        '"\\U0010ffff"',
        '"\\ufeff"',
        '"\\u200b"',
        '"\\n"',
        '"a\\r\\nb"',
        '"\\t"',
        '"\\x41"',
        '"\\q"',
    ),
    *('"=1+1"', '"@x"', '"<script>"', '"]]>"', '"*/ int"', '"$\\\\frac$"', '"%s%n"', '"{}"'),
    *(
        '"06:30"',
        '"24:00"',
        '"-1:00"',
        '"6:3"',
        '"06:30:61"',
        '"99999999:00"',
        '"٠٦:٣٠"',
        "06:30:00",
    ),
    *('"civil"', '"Civil"', '"sunrise"', '"moon"', "6", "0.8333", "18.0001", "-6", "17.999999999"),
    *("2027-01-01", "0000-01-01", "0001-01-01", "9999-12-31", "2027-02-29", "2027-13-01"),
    *("1979-05-27T07:32:00Z", "1979-05-27 07:32:00.999999-23:59", '"2027-01-01"'),
    *('"Etc/GMT+12"', '"Factory"', '"../../etc/passwd"', '"posixrules"', '"right/UTC"', '"UTC"'),
    *('"Pacific/Apia"', '"Africa/Monrovia"', '"America/Adak"', '"EST5EDT"', '"europe/oslo"', '"/"'),
    *('"Antarctica/Troll"', '"Asia/Kathmandu"', '"Pacific/Kiritimati"', '"\\u0000/UTC"'),
    *('"6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"', '"{6F1C1D1E-6A4F-4E0B-9DF4-3F2F0F8F2B11}"'),
    *('"http://x"', '"https://u:p@x/"', '"https://[::1"', '"file:///etc/passwd"', '"https://x:0"'),
    *('"controller"', '"timer"', '"hand"', '"/dev/null"', '"/dev/zero"', '"."', '"site.toml"'),
)
LONG = ('"' + "a" * 20_000 + '"', '"' + "\\u202e" * 500 + '"', "[" * 3000 + "]" * 3000)
LONG += ("{a = " * 400 + "1" + "}" * 400, "[" + "1," * 5000 + "]", "1." + "0" * 6000 + "1")
HEADS = ("[open]", "[[span]]", "[span]", "[[open]]", "[place.place]", "[a.b.c.d.e]", "[]", "[ ]")
HEADS += ("[[place]]", '["\\u001b"]', "[open.offset_min]", "[x]", "[timer]", "[lamp]", "[sync]")
PIECES = (b"\0", b"\xff", b"\xc0\x80", b"\xed\xa0\x80", b"\x1b[2J", b"\r", b"\xef\xbb\xbf", b"\x7f")
PIECES += ("\u202e\u2028\u0085\u200f".encode(), b"\n\n=", b"\xf4\x90\x80\x80", b"\x00" * 64, b"#")
LINE = re.compile(r"^(\s*#?\s*)([A-Za-z_.]+)(\s*=\s*)(.*)$")


@functools.cache
def good_files():
    """Return files to begin with: the demo sites, and one in which every key is named."""
    start = Start(
        "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11", "x", 52.0, 5.0, "", "Europe/Oslo", None, None, 2027
    )
    demos = [path.read_text() for path in sorted((ROOT / "schedules").glob("*.toml"))]
    return [*demos, starter_text(start, everything=True)]


def hostile_file(seed):
    """Return the bytes of a file that nobody should have written."""
    chance = random.Random(seed)
    lines = chance.choice(good_files()).splitlines()
    kinds = (change_value, change_value, change_value, change_key, add_head, add_line, double_line)
    for _ in range(chance.choice((1, 1, 1, 1, 2, 4))):
        chance.choice(kinds)(chance, lines)
    content = "\n".join(lines).encode("utf-8", "surrogatepass") + b"\n"
    if chance.random() < 0.2:
        content = damage(chance, content)
    return content


def value(chance):
    """Return a value, mostly hostile."""
    return chance.choice(LONG) if chance.random() < 0.05 else chance.choice(VALUES)


def change_value(chance, lines):
    """Give a key another value, also one that stands there as an example."""
    places = [index for index, line in enumerate(lines) if LINE.match(line)]
    index = chance.choice(places)
    _, key, equals, _ = LINE.match(lines[index]).groups()
    lines[index] = f"{key}{equals}{value(chance)}"


def change_key(chance, lines):
    """Spell a key otherwise, or move it elsewhere."""
    places = [index for index, line in enumerate(lines) if LINE.match(line)]
    index = chance.choice(places)
    _, key, equals, rest = LINE.match(lines[index]).groups()
    other = chance.choice((key[1:], key.upper(), f'"{key}\\u001b"', "'" + key, f"{key}.{key}", ""))
    lines[index] = f"{other}{equals}{rest}"
    lines.insert(chance.randrange(len(lines)), lines.pop(index))


def add_head(chance, lines):
    """Begin another table anywhere."""
    lines.insert(chance.randrange(len(lines) + 1), chance.choice(HEADS))


def add_line(chance, lines):
    """Set a key anywhere that may not be one."""
    key = chance.choice(("x", "offset_min", "light", '""', "a.b", "zone", "from", "shut", "\u202e"))
    lines.insert(chance.randrange(len(lines) + 1), f"{key} = {value(chance)}")


def double_line(chance, lines):
    """Write a line twice."""
    lines.insert(chance.randrange(len(lines) + 1), chance.choice(lines))


def damage(chance, content):
    """Return bytes that may be no text any more."""
    match chance.randrange(6):
        case 0:
            return b""
        case 1:
            return chance.randbytes(chance.choice((1, 100, 5000)))
        case 2:
            return content[: chance.randrange(len(content))]
        case 3:
            return content * chance.choice((2, 400))
        case 4:
            return content.decode().encode("utf-16")
    for _ in range(chance.choice((1, 1, 5))):
        at = chance.randrange(len(content) + 1)
        content = content[:at] + chance.choice(PIECES) + content[at + chance.choice((0, 1)) :]
    return content


def run_command(arguments):
    """Return status, standard output and standard error of a command, run here."""
    out = io.TextIOWrapper(io.BytesIO(), encoding="utf-8", write_through=True)
    err = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = run(list(arguments))
    return status, out.buffer.getvalue().decode(), err.getvalue()


def faults(name, status, out, err):
    """Return what is wrong with how a command ended."""
    found = []
    if status not in STATUSES:
        found.append(f"status {status}")
    if "Traceback" in err:
        found.append("a traceback")
    if status and not err:
        found.append("no message")
    # `check` first says what it understood.
    if status and out and name != "check":
        found.append("a result beside a message")
    if not all(line.startswith(OWN_WORDS) for line in err.splitlines()):
        found.append("a message that is not daylatch's")
    if len(err.splitlines()) != len(set(err.splitlines())):
        found.append("a message twice")
    # Neither the message nor what is said of the file may hold anything that a terminal obeys.
    if not all(c == "\n" or c.isprintable() for c in err + out):
        found.append("a character that cannot be printed")
    return [f"{name}: {one}" for one in found]


def try_file(seed):
    """Return the statuses of the commands for one file, and what is wrong."""
    content = hostile_file(seed)
    statuses, found = [], []
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        Path("site.toml").write_bytes(content)
        # One of the demo sites names these.
        for name in ("fjord-end-2027.bin", "fjord-end-skyline.csv"):
            shutil.copy(ROOT / "schedules" / name, folder)
        given = {path.name for path in Path().iterdir()}
        for name, arguments in COMMANDS.items():
            try:
                status, out, err = run_command(arguments)
            except BaseException:
                status, out, err = 0, "", ""
                found.append(f"{name}: {traceback.format_exc()}")
            statuses.append((name, status))
            found += [f"{one}: {err[:300]}" for one in faults(name, status, out, err)]
            wanted = given | {"p.csv"} if name == "plan" and status == 0 else given
            there = {path.name for path in Path().iterdir()}
            if there != wanted or Path("site.toml").read_bytes() != content:
                found.append(f"{name}: changed something, of {sorted(there)}")
            Path("p.csv").unlink(missing_ok=True)
    return seed, statuses, found


def main():
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", type=int)
    options = parser.parse_args()
    if options.only is not None:
        seed = f"{options.seed}:{options.only}"
        sys.stdout.write(hostile_file(seed).decode(errors="backslashreplace"))
        print(*try_file(seed), sep="\n")
        return 0
    print(f"hostile site files: seed {options.seed}", flush=True)
    begun = time.monotonic()
    counts, bad = Counter(), 0
    with ProcessPoolExecutor(2) as pool:
        seeds = [f"{options.seed}:{number}" for number in range(options.count)]
        for seed, statuses, found in pool.map(try_file, seeds, chunksize=50):
            counts.update(statuses)
            bad += bool(found)
            for line in found:
                print(f"  {seed}: {line}", flush=True)
    for name in COMMANDS:
        ended = ", ".join(
            f"{counts[name, status]} with {status}"
            for status in sorted({status for _, status in counts})
        )
        print(f"  {name}: {ended}")
    print(f"  {options.count} files, {bad} of them ended badly ({time.monotonic() - begun:.0f} s)")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
