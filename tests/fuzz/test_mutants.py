"""No file ends in an internal fault, hangs or fills the memory.

A few of each kind by default; ``POWERBUDGET_FUZZ=20000`` tries so many, from
``POWERBUDGET_FUZZ_FIRST`` on.  A seed that failed once is written into ``FOUND``.
"""

from __future__ import annotations

import os
import resource
import signal

import pytest
from fuzz.mutants import kinds, mutant

from powerbudget.errors import PowerBudgetError
from powerbudget.lists.importer import read_lists
from powerbudget.loads.budget import load_budget
from powerbudget.review.claims_file import read_claims
from powerbudget.site.reader import read_open_site
from powerbudget.weather.files import read_file

COUNT = int(os.environ.get("POWERBUDGET_FUZZ", "40"))
FIRST = int(os.environ.get("POWERBUDGET_FUZZ_FIRST", "0"))
LONGEST_S, MOST_KB = 20, 1_500_000
FOUND: list[tuple[str, int]] = []


def _budget(path):
    design = read_open_site(path)
    if not design.left_open:
        load_budget(design)


READERS = {
    "site": _budget,
    "claims": read_claims,
    "list": lambda path: read_lists([path]),
    "weather": read_file,
    "workbook": lambda path: read_lists([path]),
}


def tried(kind, seed, folder):
    """Return what a reader says of a mutant: nothing, or its own error."""
    ending, content = mutant(kind, seed)
    path = folder / f"mutant{ending}"
    path.write_bytes(content)
    signal.alarm(LONGEST_S)
    try:
        READERS[kind](path)
    except PowerBudgetError as exc:
        return exc.exit_code
    finally:
        signal.alarm(0)
    return 0


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("kind", READERS)
def test_mutants_are_read_or_refused(tmp_path, kind):
    """Exit code 0 or 2 for whatever is in the file."""
    seeds = [*range(FIRST, FIRST + COUNT), *(s for k, s in FOUND if k == kind)]
    codes = {}
    for seed in seeds:
        try:
            codes[seed] = tried(kind, seed, tmp_path)
        except Exception as exc:
            raise AssertionError(f"{kind} {seed}") from exc
    assert set(codes.values()) <= {0, 2}
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss < MOST_KB


def test_a_seed_gives_its_mutant_again():
    """What was found can be looked at again."""
    for kind in kinds():
        assert mutant(kind, 7) == mutant(kind, 7)
        assert mutant(kind, 7) != mutant(kind, 8)
