"""How keys and values are written: units in names, which key was meant, and what is no TOML."""
