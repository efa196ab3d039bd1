"""The web server of `daylatch home`: reports, and the page on which an alarm is quieted."""
