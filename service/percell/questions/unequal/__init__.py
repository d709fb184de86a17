"""Questions about cells that differ: sharing, joining, drift, matching."""
