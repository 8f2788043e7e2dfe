"""Show the Team page."""
