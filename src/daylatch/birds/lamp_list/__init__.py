"""When to change a plain timer that works the lamp, and to what."""
