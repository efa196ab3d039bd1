"""Pages to print and to read in a browser: the door card and the report."""
