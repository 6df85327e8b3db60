"""A vendor's claim against the site: rebuilt, judged, and what would make it true."""

from powerbudget.callable_package import make_callable

HOME = "reviewer"
make_callable(__name__)
