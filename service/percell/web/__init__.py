"""The API over HTTP: one resource per path, and problems as RFC 9457 documents."""
