"""What feeds the door: light on the panel, charge of the battery, and what would do."""
