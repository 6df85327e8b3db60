"""The calculation package as one self-contained page."""
