"""Show the Evidence page."""
