"""YAML of administrators: every value keeps its file, line and column, and the field decides its type."""
