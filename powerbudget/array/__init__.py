"""Panels: light on the plane, cell temperature, module curve, losses, regulator."""
