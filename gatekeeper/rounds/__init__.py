"""Rounds over the drop folders: what was begun is finished, what is at rest is taken."""
