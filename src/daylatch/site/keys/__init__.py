"""How keys and values are written: lines, units in names, which key was meant, what is no TOML."""
