"""Judging without consequences: files as they lie, and the past under edited rules."""
