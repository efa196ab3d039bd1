"""What the commands for many houses do."""
