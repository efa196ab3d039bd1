"""Lock-ins: how long, how much of them awake, and by which rule."""
