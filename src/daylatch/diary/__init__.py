"""What happened: what was seen of the door and the birds, and what it says."""
