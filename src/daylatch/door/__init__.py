"""What works the door: a plain timer, a controller's table, and the clock of either."""
