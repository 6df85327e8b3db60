"""Pictures: one language of color, one file a picture."""
