"""`python -m powerbudget`."""

from powerbudget.cli import main

main()
