"""Judges film negatives from their readings before a plate is exposed through them."""

__version__ = "0.1.0"
