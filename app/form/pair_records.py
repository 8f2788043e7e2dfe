"""Name the places in a case where what is kept of each of two pairs stands."""

from __future__ import annotations

ORDER, COLLECTION = "levelgaze_order", "levelgaze_collection"
ORDERS = {"1": ORDER, "2": "levelgaze_order_2"}
COLLECTIONS = {"1": COLLECTION, "2": "levelgaze_collection_2"}
"""Keys of the order and the readings of each pair; those of pair one are as in earlier cases."""
