"""Putting a file in place: whole or not at all, and never over what is not ours.

A folder without permission to write cannot be tried here, since tests may run as an administrator,
whom no permission stops; a path below a plain file cannot be written to by anybody.
"""

import errno
import os
import resource
import signal
import stat
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from daylatch.errors import OutputError, SiteError
from daylatch.files.parts import clear_left_overs
from daylatch.files.put import put, read_own
from daylatch.site.reading.identity import Twins, refuse_other_house, twins_of
from daylatch.site.reading.site_file import LARGEST_BYTES, load_site

OLD, NEW = b"old content", b"new content"
NONE = Twins([], [])
ID = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"


def ours(content):
    return content.startswith(b"old")


def nobodys(content):
    return False


def left_in(folder):
    return sorted(path.name for path in folder.iterdir())


# --- Writing -----------------------------------------------------------------------------------


def test_a_new_file_is_written(tmp_path):
    put(tmp_path / "plan.csv", NEW)
    assert (tmp_path / "plan.csv").read_bytes() == NEW
    assert left_in(tmp_path) == ["plan.csv"]


def test_an_old_file_is_replaced(tmp_path):
    (tmp_path / "plan.csv").write_bytes(OLD * 1000)
    put(tmp_path / "plan.csv", NEW)
    assert (tmp_path / "plan.csv").read_bytes() == NEW
    assert left_in(tmp_path) == ["plan.csv"]


def test_a_name_without_a_folder_means_the_folder_one_stands_in(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    put(Path("plan.csv"), NEW)
    assert left_in(tmp_path) == ["plan.csv"]


@pytest.mark.parametrize("name", ["ä öß 東京.csv", "-o", ".hidden", "x" * 250, "a\nb", "%s{}$(x)"])
def test_any_name_that_a_file_may_have(tmp_path, name):
    put(tmp_path / name, NEW)
    assert (tmp_path / name).read_bytes() == NEW
    assert left_in(tmp_path) == [name]


def no_space(*arguments, **options):
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


@pytest.mark.parametrize(
    ("holder", "call"),
    [(os, "fsync"), (Path, "replace"), (Path, "chmod"), (os, "fdopen")],
    ids=["fsync", "replace", "chmod", "fdopen"],
)
@pytest.mark.parametrize("old", [OLD, None])
def test_a_full_disk_leaves_everything_as_it_was(tmp_path, monkeypatch, holder, call, old):
    path = tmp_path / "plan.csv"
    if old is not None:
        path.write_bytes(old)
    with monkeypatch.context() as patch:
        patch.setattr(holder, call, no_space)
        with pytest.raises(OutputError) as caught:
            put(path, NEW)
    assert str(caught.value) == (
        f"{path}: cannot be written: No space left on device; nothing was changed"
    )
    assert left_in(tmp_path) == ([] if old is None else ["plan.csv"])
    assert old is None or path.read_bytes() == old


def test_a_write_that_breaks_off_midway_leaves_the_old_file_whole(tmp_path, monkeypatch):
    """The file's own size limit stands for a disk that fills up while it is written."""
    path = tmp_path / "plan.csv"
    path.write_bytes(OLD)
    kept = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    try:
        resource.setrlimit(resource.RLIMIT_FSIZE, (4096, kept[1]))
        with pytest.raises(OutputError, match="File too large; nothing was changed"):
            put(path, NEW * 10_000)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, kept)
        signal.signal(signal.SIGXFSZ, handler)
    assert path.read_bytes() == OLD
    assert left_in(tmp_path) == ["plan.csv"]


@pytest.mark.parametrize("stop", [KeyboardInterrupt, MemoryError])
def test_an_interrupted_write_leaves_no_remains(tmp_path, monkeypatch, stop):
    def interrupted(*arguments):
        raise stop

    path = tmp_path / "plan.csv"
    path.write_bytes(OLD)
    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", interrupted)
        with pytest.raises(stop):
            put(path, NEW)
    assert path.read_bytes() == OLD
    assert left_in(tmp_path) == ["plan.csv"]


def test_a_missing_folder_is_named_and_not_made(tmp_path):
    path = tmp_path / "missing" / "plan.csv"
    with pytest.raises(OutputError, match=r"plan\.csv: cannot be written: No such file"):
        put(path, NEW)
    assert left_in(tmp_path) == []


def test_nothing_is_written_below_a_plain_file(tmp_path):
    (tmp_path / "file").write_bytes(OLD)
    with pytest.raises(OutputError, match="cannot be written: Not a directory"):
        put(tmp_path / "file" / "plan.csv", NEW)
    with pytest.raises(OutputError, match="cannot be looked at: Not a directory"):
        read_own(tmp_path / "file" / "plan.csv", ours, force=True)
    assert (tmp_path / "file").read_bytes() == OLD


def test_permissions_of_a_replaced_file_are_kept(tmp_path):
    path = tmp_path / "plan.csv"
    path.write_bytes(OLD)
    path.chmod(0o604)
    put(path, NEW)
    assert stat.S_IMODE(path.stat().st_mode) == 0o604


@pytest.mark.parametrize(("umask", "mode"), [(0o022, 0o644), (0o077, 0o600), (0o002, 0o664)])
def test_a_new_file_has_the_permissions_that_new_files_get(tmp_path, umask, mode):
    kept = os.umask(umask)
    try:
        put(tmp_path / "plan.csv", NEW)
        assert os.umask(umask) == umask
    finally:
        os.umask(kept)
    assert stat.S_IMODE((tmp_path / "plan.csv").stat().st_mode) == mode


# --- Looking before writing --------------------------------------------------------------------


@pytest.mark.parametrize("force", [False, True])
def test_what_is_not_there_may_be_written(tmp_path, force):
    assert read_own(tmp_path / "plan.csv", nobodys, force=force) is None


@pytest.mark.parametrize("force", [False, True])
def test_our_own_file_comes_back(tmp_path, force):
    (tmp_path / "plan.csv").write_bytes(OLD)
    assert read_own(tmp_path / "plan.csv", ours, force=force) == OLD


def test_what_is_not_ours_is_left_unless_forced(tmp_path):
    path = tmp_path / "plan.csv"
    path.write_bytes(b"a letter")
    with pytest.raises(OutputError) as caught:
        read_own(path, ours, force=False)
    assert str(caught.value) == (
        f"{path}: exists and was not written by daylatch in this form, so it is left as it is; "
        "choose another name, or add --force to replace it"
    )
    assert read_own(path, ours, force=True) is None
    assert path.read_bytes() == b"a letter"


@pytest.mark.parametrize("force", [False, True])
@pytest.mark.parametrize("target", ["plan.csv", "nowhere"])
def test_a_symbolic_link_is_never_followed(tmp_path, force, target):
    (tmp_path / "plan.csv").write_bytes(OLD)
    (tmp_path / "link").symlink_to(tmp_path / target)
    with pytest.raises(OutputError, match="is a symbolic link; name the file that it points to"):
        read_own(tmp_path / "link", ours, force=force)


@pytest.mark.parametrize("force", [False, True])
def test_a_folder_is_no_file(tmp_path, force):
    with pytest.raises(OutputError, match="is a folder; name a file in it"):
        read_own(tmp_path, ours, force=force)


@pytest.mark.parametrize("force", [False, True])
@pytest.mark.parametrize("device", ["/dev/null", "/dev/full", "/dev/zero"])
def test_a_device_is_left_alone(device, force):
    """Reading the last one would never end."""
    with pytest.raises(OutputError, match="is not a plain file, so it is left alone"):
        read_own(Path(device), ours, force=force)


@pytest.mark.parametrize("force", [False, True])
def test_a_pipe_is_left_alone_and_not_waited_for(tmp_path, force):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(OutputError, match="is not a plain file, so it is left alone"):
        read_own(tmp_path / "pipe", ours, force=force)


# --- One identity, one house -------------------------------------------------------------------


def text(identity):
    return (
        f'id = "{identity}"\nname = "House"\n[place]\nlatitude = 52.09\nlongitude = 5.12\n'
        'zone = "Europe/Amsterdam"\n'
    )


def test_another_file_with_the_same_id_is_found(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text(text(ID))
    (tmp_path / "b.toml").write_text(text(ID.upper()))
    (tmp_path / "c.toml").write_text(text(ID.replace("-", "")).replace("House", "Other house"))
    (tmp_path / "d.toml").write_text(text(ID[:-1] + "2"))
    (tmp_path / "e.txt").write_text(text(ID))
    site = load_site(path)
    (tmp_path / "moved.toml").write_text(text(ID).replace("52.09", "52.19"))
    twins = twins_of(site, path)
    assert twins == ([tmp_path / "b.toml"], [tmp_path / "c.toml", tmp_path / "moved.toml"])
    with pytest.raises(SiteError) as caught:
        refuse_other_house(site, twins)
    assert str(caught.value) == (
        f'{path}, line 1: id = "{ID}": the same id stands in c.toml, moved.toml under another name '
        "or place, and calendars could not tell the houses apart: `daylatch new --like FILE -o "
        "COPY` gives a copy with an id of its own"
    )


def test_the_same_file_by_another_name_is_no_other_house(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text(text(ID))
    (tmp_path / "link.toml").symlink_to(path)
    os.link(path, tmp_path / "hard.toml")
    site = load_site(path)
    assert twins_of(site, path) == NONE
    refuse_other_house(site, NONE)


def test_files_that_are_no_site_files_do_no_harm(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text(text(ID))
    (tmp_path / "b.toml").write_text("= not toml")
    (tmp_path / "c.toml").write_bytes(b"\xff\xfe")
    (tmp_path / "d.toml").write_text("id = 5\n")
    (tmp_path / "e.toml").write_text('id = "five"\n')
    (tmp_path / "f.toml").mkdir()
    (tmp_path / "g.toml").symlink_to(tmp_path / "nowhere")
    (tmp_path / "h.toml").write_text("x = " + "[" * 20_000)
    (tmp_path / "i.toml").write_text(f'id = "{ID}"\n' + "# \n" * LARGEST_BYTES)
    assert twins_of(load_site(path), path) == NONE


def test_a_pipe_among_the_files_is_not_waited_for(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text(text(ID))
    os.mkfifo(tmp_path / "b.toml")
    assert twins_of(load_site(path), path) == NONE


# --- What a killed run leaves ------------------------------------------------------------------

WRITES_FOR_EVER = """
import sys, time
from pathlib import Path
from daylatch.files.parts import new_part
with new_part(Path(sys.argv[1])) as (file, part):
    file.write(b"half"); file.flush()
    print("there", flush=True)
    time.sleep(60)
"""


@pytest.fixture
def writing(tmp_path):
    """Return a run that is in the middle of a write."""
    run = subprocess.Popen(
        [sys.executable, "-c", WRITES_FOR_EVER, str(tmp_path / "door.ics")], stdout=subprocess.PIPE
    )
    assert run.stdout.readline() == b"there\n"
    yield run
    run.kill()
    run.wait()
    run.stdout.close()


def test_the_next_write_clears_what_a_killed_run_left(tmp_path, writing):
    (tmp_path / ".mine.part").write_bytes(OLD)
    writing.kill()
    writing.wait()
    assert [name.endswith(".part") for name in left_in(tmp_path)] == [True, True]
    put(tmp_path / "plan.csv", NEW)
    assert left_in(tmp_path) == [".mine.part", "plan.csv"]


def test_a_write_under_way_is_left_alone(tmp_path, writing):
    put(tmp_path / "plan.csv", NEW)
    assert len(left_in(tmp_path)) == 2
    put(tmp_path / "door.ics", NEW)
    assert len(left_in(tmp_path)) == 3


def test_a_part_that_another_run_took_for_a_left_over_is_made_anew(tmp_path, monkeypatch):
    once = []
    make = tempfile.mkstemp

    def taken(**options):
        handle, name = make(**options)
        if not once:
            once.append(name)
            clear_left_overs(tmp_path)
        return handle, name

    monkeypatch.setattr(tempfile, "mkstemp", taken)
    put(tmp_path / "plan.csv", NEW)
    assert once
    assert left_in(tmp_path) == ["plan.csv"]


def test_a_disk_without_locks_is_written_to_all_the_same(tmp_path, monkeypatch):
    def no_locks(*_):
        raise OSError(errno.ENOLCK, os.strerror(errno.ENOLCK))

    monkeypatch.setattr("fcntl.flock", no_locks)
    put(tmp_path / "plan.csv", NEW)
    assert left_in(tmp_path) == ["plan.csv"]


# --- Protected files ---------------------------------------------------------------------------


@pytest.mark.parametrize("content", [OLD, b"somebody's"])
def test_a_write_protected_file_is_kept_unless_the_keeper_agrees(tmp_path, content):
    path = tmp_path / "plan.csv"
    path.write_bytes(content)
    path.chmod(0o444)
    with pytest.raises(OutputError, match="is write-protected, so it is left as it is"):
        read_own(path, ours, force=False)
    assert read_own(path, ours, force=True) == (OLD if content == OLD else None)
    put(path, NEW)
    assert stat.S_IMODE(path.stat().st_mode) == 0o444


def test_a_pipe_with_the_name_of_a_left_over_is_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / ".evil.daylatch.part")
    put(tmp_path / "plan.csv", NEW)
    assert left_in(tmp_path) == [".evil.daylatch.part", "plan.csv"]


@pytest.mark.parametrize("name", ["bom.toml", "upper.TOML"])
def test_a_twin_is_found_however_its_file_is_written(tmp_path, name):
    path = tmp_path / "a.toml"
    path.write_text(text(ID))
    (tmp_path / name).write_bytes(b"\xef\xbb\xbf" + text(ID).replace("House", "Other").encode())
    assert twins_of(load_site(path), path) == ([], [tmp_path / name])
