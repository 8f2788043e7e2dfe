"""Find where a screen could go, and what a move would bring."""
