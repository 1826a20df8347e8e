"""From a drop folder to a sheet in hand: what lies there, whether it rests, and what it says."""
