"""The diary's file: an SQLite database, in which nothing is ever rewritten."""
