"""What a clock's troubles do to a door: a simulated controller, minute by minute."""
