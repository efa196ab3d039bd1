"""What a door reports, and how that comes in."""
