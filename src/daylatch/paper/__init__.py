"""Who must know on paper or on a page: the card by the door, pictures, the report."""
