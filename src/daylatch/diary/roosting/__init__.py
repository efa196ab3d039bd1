"""The flock's own light: learned from when the last bird is in and the first wants out."""
