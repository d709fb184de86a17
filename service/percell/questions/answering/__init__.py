"""Turns the figures of a question into its answer."""
