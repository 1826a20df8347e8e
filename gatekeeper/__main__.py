"""`python -m gatekeeper`."""

from gatekeeper.cli import main

main()
