"""What the commands under The birds do."""
