"""Questions about a pack of equal cells and its load."""
