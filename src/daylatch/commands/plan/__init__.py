"""What the commands under The plan do."""
