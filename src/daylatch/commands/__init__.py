"""What each command does. Only these modules read the clock, print and write files."""
