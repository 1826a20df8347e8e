"""Findings for people: reports, screens and lists. Nothing here decides, files or asks a clock."""
