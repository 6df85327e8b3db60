"""Public names stay what they are, whatever has been imported before."""

from __future__ import annotations

import subprocess
import sys

import pytest

PROBE = """
import powerbudget.{package}.{module}
import powerbudget as pb
assert callable(pb.{package}), pb.{package}
try:
    pb.{package}(None, None, None, None)
except TypeError as exc:
    assert "{package}() takes" in str(exc), exc
"""


@pytest.mark.parametrize(
    ("package", "module"),
    [("review", "result"), ("compare", "money"), ("fleet", "page")],
)
def test_a_function_is_not_hidden_by_its_package(package, module):
    """`powerbudget.review(...)` works after a module of that package was imported."""
    code = PROBE.format(package=package, module=module)
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


def test_every_public_name_is_there():
    """Each name of the package loads, and none is listed twice."""
    import powerbudget as pb

    assert len(pb.__all__) == len(set(pb.__all__))
    for name in pb.__all__:
        assert getattr(pb, name) is not None
