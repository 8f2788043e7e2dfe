"""Show the Collection page."""
