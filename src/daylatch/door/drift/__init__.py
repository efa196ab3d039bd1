"""How wrong the door's own clock may be, and when it must be set again."""
