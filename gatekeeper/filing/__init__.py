"""Job folders, and moves that nothing can interrupt: only this part of the program moves files."""
