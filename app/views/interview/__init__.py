"""Show the Interview page."""
