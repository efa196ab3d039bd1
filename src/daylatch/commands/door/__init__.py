"""What the commands under The door do."""
