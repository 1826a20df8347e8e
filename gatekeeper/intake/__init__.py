"""From a drop folder to a sheet in hand: what lies there, whether it is at rest, and what it says."""
