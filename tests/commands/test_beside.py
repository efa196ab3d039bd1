"""Files that a site file names: what tells that one of them has changed."""

from __future__ import annotations

import os

from daylatch.commands.beside import stamp_of_files
from daylatch.site.reading.site_file import load_site
from sites import HOUSE

NAMED = """
[door]
in_use = "door.bin"
[skyline]
file = "hills.csv"
[panel]
light_file = "light.csv"
"""


def test_each_file_that_is_named_changes_the_stamp(tmp_path):
    (tmp_path / "site.toml").write_text(HOUSE + NAMED)
    site = load_site(tmp_path / "site.toml")
    stamps = [stamp_of_files(site)]
    for name in ("door.bin", "hills.csv", "light.csv"):
        (tmp_path / name).write_text("one")
        stamps.append(stamp_of_files(site))
        (tmp_path / name).write_text("other")
        stamps.append(stamp_of_files(site))
        os.utime(tmp_path / name, ns=(1, 1))
        stamps.append(stamp_of_files(site))
    assert len(set(stamps)) == len(stamps)
    assert stamp_of_files(site) == stamps[-1]


def test_a_site_that_names_no_file_has_nothing_to_change(tmp_path):
    (tmp_path / "site.toml").write_text(HOUSE)
    assert stamp_of_files(load_site(tmp_path / "site.toml")) == ()
