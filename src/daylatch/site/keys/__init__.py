"""What the names of keys say: their units, and which key was meant by one that does not exist."""
