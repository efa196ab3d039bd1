"""What the commands under What happened do."""
