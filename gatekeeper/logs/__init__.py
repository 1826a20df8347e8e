"""What the program says while it works: one line an event, with fields, nothing endlessly."""

from gatekeeper.logs.fields import fields

__all__ = ["fields"]
