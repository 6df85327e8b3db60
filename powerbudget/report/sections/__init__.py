"""One builder a section of the calculation package."""
