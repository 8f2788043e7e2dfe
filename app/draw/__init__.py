"""Draw and phrase a result: SVG, charts, rows and HTML pieces."""
