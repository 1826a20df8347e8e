"""A file of readings in any format becomes a `Sheet`: one module a format."""
