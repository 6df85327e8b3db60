"""Fuelled and other steady sources: output, fuel, cold, stock, as data and formulas."""
