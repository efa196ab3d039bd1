"""What is known of a real place, as other commands tell it: its sun, and what feeds its door."""
