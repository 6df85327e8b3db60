"""Text pages, pictures and files of results."""
