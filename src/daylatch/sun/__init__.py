"""Where the Sun is, and when it crosses an angle: no time zone, no hens."""
