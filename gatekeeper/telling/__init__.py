"""Tells other software of each verdict, by a command of the administrator's choice."""
