"""How a roster is answered where nobody asks for more; told before anything large is loaded."""

from __future__ import annotations

DRAWS = 10
"""How often a row with something unknown is drawn."""
SEED = 1
"""Of the draws."""
CHUNK_ROWS = 1000
"""Rows in memory at a time."""
