"""Many sites: one row a site, over local cores or an existing scheduler."""

from powerbudget.callable_package import make_callable

HOME = "fleet"
make_callable(__name__)
