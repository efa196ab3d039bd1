"""What each day brings to the rules, and what they make of it."""
