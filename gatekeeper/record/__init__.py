"""The gate's way to the history: told at once, later from an outbox, or anew from the folders."""
