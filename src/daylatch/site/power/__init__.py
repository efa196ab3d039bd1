"""The tables of the site file that say what feeds the door: its panel, its battery, its load."""
