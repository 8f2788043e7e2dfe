"""Slow, independent ways to the numbers of the engine; none imports the formula it checks."""
