"""Who may see a house, and note something, besides the keeper at the computer itself."""
