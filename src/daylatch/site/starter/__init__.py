"""The file that a keeper begins with: its text, its keys, and examples that fit the place."""
