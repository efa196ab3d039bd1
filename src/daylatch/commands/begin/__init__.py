"""What the commands under Begin do."""
