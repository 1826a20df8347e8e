"""The mathematics of the plate room, one module a subject: pure functions, no input or output."""
