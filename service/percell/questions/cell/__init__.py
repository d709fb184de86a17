"""Questions about one cell: sag, charging, temperature, what is printed on it."""
