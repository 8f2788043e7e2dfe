"""Compute posture, clearness and hours for many wearers at once."""
