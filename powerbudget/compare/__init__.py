"""Options on equal terms: cost over the years, fuel, visits, emissions."""

from powerbudget.callable_package import make_callable

HOME = "comparison"
make_callable(__name__)
