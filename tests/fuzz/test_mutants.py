"""No file ends in an internal fault, hangs or fills the memory.

A few of each kind by default; ``POWERBUDGET_FUZZ=20000`` tries so many of each, and a
seventh of it simulated, from ``POWERBUDGET_FUZZ_FIRST`` on; those that ended in a
simulation are counted in what ``pytest -rP`` prints.  A seed that failed once is
written into ``FOUND``.
"""

from __future__ import annotations

import os
import signal
from pathlib import Path

import pytest
from fuzz.mutants import SITES, kinds, mutant, other_figures

from powerbudget.balance.simulation import simulate
from powerbudget.errors import PowerBudgetError
from powerbudget.lists.importer import read_lists
from powerbudget.loads.budget import load_budget
from powerbudget.review.claims_file import read_claims
from powerbudget.site.reader import read_open_site, read_site_text
from powerbudget.sizing.autonomy import autonomy
from powerbudget.sizing.criteria import judge
from powerbudget.weather.files import read_file

COUNT = int(os.environ.get("POWERBUDGET_FUZZ", "20"))
FIRST = int(os.environ.get("POWERBUDGET_FUZZ_FIRST", "0"))
LONGEST_S, MOST_KB = 20, 1_500_000
FOUND: list[tuple[str, int]] = [
    ("site", 1011765), ("weather", 20261548), ("claims", 70004339),
]  # fmt: skip


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


class HangsError(BaseException):
    """Longer than a reader may take; nothing in between takes it for its own."""


def _hangs(*_):
    raise HangsError


def code_of(call):
    """Return the exit code that a call ends in: nothing, or its own error."""
    # Seconds of the processor: a busy machine is no hang.
    before = signal.signal(signal.SIGPROF, _hangs)
    signal.setitimer(signal.ITIMER_PROF, LONGEST_S)
    try:
        call()
    except PowerBudgetError as exc:
        return exc.exit_code
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)
    return 0


def tried(kind, seed, folder):
    """Return what a reader says of a mutant."""
    ending, content = mutant(kind, seed)
    path = folder / f"mutant{ending}"
    path.write_bytes(content)
    return code_of(lambda: READERS[kind](path))


def _simulated(seed):
    """Simulate a site of other figures and judge it."""
    run = simulate(read_site_text(other_figures(seed), path=SITES / "mutant.toml"))
    judge(run, autonomy(run).design_days)


def _codes(seeds, call):
    codes, before_kb = {}, _peak_kb(anew=True)
    for seed in seeds:
        try:
            codes[seed] = call(seed)
        except (Exception, HangsError) as exc:
            raise AssertionError(f"seed {seed}") from exc
    assert set(codes.values()) <= {0, 2}
    assert _peak_kb() - before_kb < MOST_KB
    return codes


def _peak_kb(*, anew=False):
    """Return the most memory since it was last asked anew: other tests run here too."""
    if not Path("/proc/self/clear_refs").exists():
        return 0
    if anew:
        Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
    status = Path("/proc/self/status").read_text(encoding="ascii", errors="replace")
    return int(status.split("VmHWM:")[1].split()[0])


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("kind", READERS)
def test_mutants_are_read_or_refused(tmp_path, kind):
    """Exit code 0 or 2 for whatever is in the file."""
    seeds = [*range(FIRST, FIRST + COUNT), *(s for k, s in FOUND if k == kind)]
    _codes(seeds, lambda seed: tried(kind, seed, tmp_path))


@pytest.mark.filterwarnings("ignore")
def test_sites_of_other_figures_are_simulated_or_refused():
    """A site that is read is simulated to its end, whatever its figures."""
    codes = _codes(
        range(FIRST, FIRST + 2 + COUNT // 7), lambda s: code_of(lambda: _simulated(s))
    )
    done = sum(code == 0 for code in codes.values())
    print(f"simulated {done} of {len(codes)}")
    assert done


def test_a_seed_gives_its_mutant_again():
    """What was found can be looked at again."""
    for kind in kinds():
        assert mutant(kind, 7) == mutant(kind, 7)
        assert mutant(kind, 7) != mutant(kind, 8)
