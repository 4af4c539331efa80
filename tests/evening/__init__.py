"""Whole evenings in a real browser."""
