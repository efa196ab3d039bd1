"""What ails the door's clock: a line with jumps through what was seen."""
