"""Many sites: one row a site, over local cores or an existing scheduler."""
