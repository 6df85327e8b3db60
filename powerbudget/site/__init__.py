"""What the engineer writes: the site file, its checks and the parts library."""

from powerbudget.site.reader import Design, read_site, read_site_text

__all__ = ["Design", "read_site", "read_site_text"]
