"""The day's length for laying, and a lamp that keeps it."""
