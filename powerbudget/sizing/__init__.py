"""Autonomy, criteria, search for panel and battery, hand worksheet."""
