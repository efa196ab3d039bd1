"""A plain timer with fixed times: when to change it, and to what."""
