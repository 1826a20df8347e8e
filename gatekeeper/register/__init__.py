"""What the room owns: meters, film lots, printers and tone curves."""
