"""YAML as people write it: values keep file, line and column, and the field decides their type."""
