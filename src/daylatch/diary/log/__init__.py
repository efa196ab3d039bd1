"""Logs as CSV: rows of any layout become entries of a diary, and entries the diary's own layout."""
