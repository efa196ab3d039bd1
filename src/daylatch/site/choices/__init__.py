"""What the words of some keys mean, a list each: from a line follow what a key takes and says."""
