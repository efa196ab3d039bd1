"""The diary day by day: what was seen beside what was due, and what was due and not reported."""
