"""The door against what was due, and what ails its clock."""
