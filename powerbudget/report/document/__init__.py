"""Blocks of a document and the package of results they are filled from."""
