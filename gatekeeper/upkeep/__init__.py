"""Scheduled work."""
