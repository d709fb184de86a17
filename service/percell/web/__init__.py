"""HTTP. One resource per path; problems as RFC 9457 documents."""
