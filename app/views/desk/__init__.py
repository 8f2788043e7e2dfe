"""Show the Desk page."""
