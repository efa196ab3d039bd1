"""Open and close times for a hen house's pop door, for any place and any day of the year."""

__version__ = "0.1.0"
