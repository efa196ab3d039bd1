"""The page at home: what is due, what was said of the door, and taps into the diary.

It shows and notes, and never moves a door.
"""
