"""Formulas. One function is one relation; floats or NumPy arrays in and out; no HTTP, no msgspec."""
