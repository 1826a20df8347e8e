"""Job folders and the moves that nothing can interrupt: the only part of the program that moves a file."""
