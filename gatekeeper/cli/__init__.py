"""The commands: each parses, calls one function and maps the outcome to an exit code."""

from gatekeeper.cli.entry import main

__all__ = ["main"]
