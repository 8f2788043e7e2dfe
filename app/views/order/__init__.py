"""Show the Order page."""
