"""The version of this program."""

from importlib.metadata import PackageNotFoundError, version

try:
    __version__ = version("powerbudget")
except PackageNotFoundError:  # a checkout that was never installed
    __version__ = "0+unknown"
