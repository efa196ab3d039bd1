"""The systemd unit: what systemd itself says of it."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from daylatch.errors import UsageError
from daylatch.home.unit import unit_text
from programs import needs


def unit(*sites, python="/usr/bin/python3", user="root"):
    paths = [Path(site) for site in sites]
    return unit_text([Path(python)], paths, [path.parent for path in paths], user)


def test_it_runs_the_command_on_the_site_files():
    text = unit("/srv/my hens/hens.toml", "/srv/ducks/ducks.toml", user="jo")
    assert (
        'ExecStart="/usr/bin/python3" -m daylatch home "/srv/my hens/hens.toml" '
        '"/srv/ducks/ducks.toml"\n' in text
    )
    assert 'ReadWritePaths="/srv/my hens"\nReadWritePaths="/srv/ducks"\n' in text
    assert "User=jo\n" in text
    assert "ProtectHome=yes\n" in text
    assert "ProtectHome=read-only\n" in unit("/home/jo/hens.toml")


@pytest.mark.parametrize("path", ['/srv/a"b/x.toml', "/srv/%h/x.toml", "/srv/a\\b", "/srv/$x.toml"])
def test_a_path_that_systemd_reads_as_something_else_is_refused(path):
    with pytest.raises(UsageError, match="move the file elsewhere"):
        unit(path)


@needs("systemd-analyze")
def test_systemd_finds_nothing_to_say_of_it(tmp_path):
    path = tmp_path / "daylatch-home.service"
    site = tmp_path / "with blank" / "hens.toml"
    site.parent.mkdir()
    path.write_text(unit(site))
    done = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", path],
        capture_output=True,
        text=True,
        check=False,
    )
    assert [line for line in done.stderr.splitlines() if path.name in line] == []
    assert done.returncode == 0, done.stderr


@needs("systemd-analyze")
def test_it_has_few_rights(tmp_path):
    path = tmp_path / "daylatch-home.service"
    path.write_text(unit(tmp_path / "hens.toml", user="nobody"))
    done = subprocess.run(
        ["systemd-analyze", "security", "--offline=true", "--threshold=20", "--no-pager", path],
        capture_output=True,
        text=True,
        check=False,
    )
    # Ten is no protection at all, and systemd calls up to 2 safe.
    assert done.returncode == 0, done.stdout[-300:] + done.stderr
