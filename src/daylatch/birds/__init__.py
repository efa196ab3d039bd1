"""What the plan means for the birds."""
