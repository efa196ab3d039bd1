"""What a networked door is told: what should be now and the movements to come, and its table."""
