"""What each command does. Only these modules read the clock, print and write files."""

from pathlib import Path

DEFAULT_SITE = Path("site.toml")
"""The site file that is meant where none is named."""
