"""Show the Kept cases page."""
