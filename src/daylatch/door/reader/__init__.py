"""The reader of controller tables in C, and a skeleton of what moves a door by it.

Not run here: `daylatch reader` writes the files out, for a controller's own project.
"""

from __future__ import annotations

FILES = (
    "daylatch_reader.h",
    "daylatch_reader.c",
    "door_control.h",
    "door_control.c",
    "door_sketch.c",
)
"""The files, which lie in this package: the reader, a door's logic, and how both are used."""
