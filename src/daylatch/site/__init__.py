"""What the keeper wrote down: the site file, its tables, and what is said of slips."""
