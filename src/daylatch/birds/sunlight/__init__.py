"""When direct sun reaches the run, over the hills, trees and houses round it."""
