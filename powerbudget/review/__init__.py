"""A vendor's claim against the site: rebuilt, judged, and what would make it true."""
