"""The same for thousands of houses: their places from a table, their plans into a dataset."""
