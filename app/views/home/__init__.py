"""Show the Home check page."""
