"""When the door should move, and why: from settings and the Sun, by rules, to a plan."""
