"""In C: the reader of controller tables, a skeleton of what moves a door by it, a networked door.

Not run here: `daylatch reader` writes the files out, for a controller's own project.
"""

from __future__ import annotations

FILES = (
    "daylatch_reader.h",
    "daylatch_reader.c",
    "door_control.h",
    "door_control.c",
    "door_sketch.c",
    "door_times.h",
    "door_times.c",
    "networked_door.c",
)
"""The files, which lie in this package: the reader, a door's logic, what a networked door does with
the answers of `daylatch home`, and how these are used."""
PROGRAMS = {
    "door_sketch.c": ("door_control.c", "daylatch_reader.c"),
    "networked_door.c": ("door_times.c", "daylatch_reader.c"),
}
"""Those of them that are whole programs, each with the others that it is compiled with."""
