"""How what a keeper wrote down is read: the site file, likely slips in it, files that it names."""
