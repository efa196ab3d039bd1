"""How much light a panel gets: clear skies, tilted planes, files of light, the split of it."""
