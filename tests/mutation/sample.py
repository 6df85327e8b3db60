"""Draw mutants of the package by a seed and see which of them the tests notice.

    python tests/mutation/sample.py map FOLDER [FILE ...]   which test runs which line
    python tests/mutation/sample.py run FOLDER [SEED [COUNT]]
    python tests/mutation/sample.py show FOLDER SEED

Not a test and not in `.ci/run`: it takes the best part of an hour.  Needs the extra
`mutation`.  Works on a copy of the checkout in FOLDER, so that the files here stay as
they are.  What is written where: `settings.toml` says what is drawn, `equivalent.toml`
lists mutants that change no answer, each with its reason.
"""

from __future__ import annotations

import ast
import json
import multiprocessing
import os
import random
import shutil
import sys
import time
import tomllib
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass
from itertools import permutations
from pathlib import Path
from queue import Queue
from typing import Any

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
SETTINGS = tomllib.loads((HERE / "settings.toml").read_text("utf-8"))
LEFT_OUT = (
    ".git",
    ".venv*",
    ".mypy_cache",
    ".ruff_cache",
    ".pytest_cache",
    "*.egg-info",
)


FORKED = multiprocessing.get_context("forkserver")
FORKED.set_forkserver_preload(SETTINGS["imported"])


@dataclass(frozen=True)
class Mutant:
    """One change of one line."""

    file: str
    line: int
    operator: str
    occurrence: int
    before: str
    after: str


def operator_names() -> list[str]:
    """Return the operators of the library that are drawn from."""
    names = ["NumberReplacer"]
    for stem, kinds in (
        ("ReplaceBinaryOperator", SETTINGS["arithmetic"]),
        ("ReplaceComparisonOperator", SETTINGS["comparison"]),
        ("ReplaceComparisonOperator", SETTINGS["identity"]),
    ):
        names += [f"{stem}_{a}_{b}" for a, b in permutations(kinds, 2)]
    return names


def _shape(code: str) -> list[type]:
    signs = (ast.operator, ast.cmpop, ast.unaryop)
    return [type(n) for n in ast.walk(ast.parse(code)) if not isinstance(n, signs)]


def mutated(code: str, operator: str, occurrence: int) -> str | None:
    """Return a file's text with one change, None where that is no program."""
    from cosmic_ray.mutating import mutate_code
    from cosmic_ray.plugins import get_operator

    text = mutate_code(code, get_operator(f"core/{operator}")(), occurrence)
    try:
        # A star of a call or a signature is no arithmetic.
        same = text and (operator == "NumberReplacer" or _shape(text) == _shape(code))
    except SyntaxError:
        return None
    return text if same else None


def places(root: Path) -> dict[tuple[str, int, int], list[tuple[str, int]]]:
    """Return what can become of every place: file, line, column to changes."""
    from cosmic_ray.ast import ast_nodes, get_ast
    from cosmic_ray.plugins import get_operator

    operators = {n: get_operator(f"core/{n}")() for n in operator_names()}
    found: dict[tuple[str, int, int], list[tuple[str, int]]] = {}
    for package in SETTINGS["packages"]:
        for path in sorted((root / "powerbudget" / package).rglob("*.py")):
            nodes = list(ast_nodes(get_ast(path.read_text("utf-8"))))
            for name, operator in operators.items():
                spots = [s for node in nodes for s in operator.mutation_positions(node)]
                for k, (start, _) in enumerate(spots):
                    where = (path.relative_to(root).as_posix(), *start)
                    found.setdefault(where, []).append((name, k))
    return found


def draw(root: Path, seed: int, count: int) -> list[Mutant]:
    """Return the mutants of a seed, each at a place of its own."""
    every, rng = places(root), random.Random(seed)  # noqa: S311 - a sample, no secret
    order, drawn = sorted(every), []
    rng.shuffle(order)
    for file, line, column in order:
        if len(drawn) == count:
            break
        operator, k = rng.choice(sorted(every[file, line, column]))
        code = (root / file).read_text("utf-8")
        text = mutated(code, operator, k)
        if text is None:
            continue
        pair = zip(code.splitlines(), text.splitlines(), strict=True)
        old, new = next((a, b) for a, b in pair if a != b)
        drawn.append(Mutant(file, line, operator, k, old.strip(), new.strip()))
    return drawn


def copy(target: Path) -> Path:
    """Copy the checkout, caches of compiled functions included."""
    shutil.rmtree(target, ignore_errors=True)
    ignored = shutil.ignore_patterns(*LEFT_OUT)
    shutil.copytree(ROOT, target, ignore=ignored, symlinks=True)
    beside = target.parent / "shared"
    if (ROOT.parent / "shared").is_dir() and not beside.exists():
        beside.symlink_to((ROOT.parent / "shared").resolve())
    return target


def _pytest(tree: Path, words: list[str], said: Path) -> None:
    """Run tests in this process, which a server of imported libraries has forked."""
    import pytest

    os.setsid()
    os.chdir(tree)
    sys.dont_write_bytecode = False
    before = os.environ.get("PYTHONPATH", "")
    os.environ.update(PYTHONPATH=f"{tree}{os.pathsep}{before}", CI="1")
    sys.path.insert(0, str(tree))
    with said.open("w") as out:
        os.dup2(out.fileno(), 1)
        os.dup2(out.fileno(), 2)
    os._exit(int(pytest.main(["-q", "-p", "no:cacheprovider", *words])))


def run_tests(
    tree: Path, words: list[str], limit_s: float | None = None
) -> tuple[int | None, str]:
    """Return exit code, None past the limit, and what was printed."""
    said = tree / "said.txt"
    process = FORKED.Process(target=_pytest, args=(tree, words, said))
    process.start()
    process.join(limit_s)
    if process.is_alive():
        os.killpg(process.pid or 0, 9)
        process.join()
        return None, ""
    return process.exitcode, said.read_text("utf-8", errors="replace")


def make_map(folder: Path, files: list[str]) -> None:
    """Run the default tests, or those of some files, and keep what executes which line."""
    tree = copy(folder / "tree")
    data = folder / "coverage"
    (folder / "coveragerc").write_text(f"[run]\ndata_file = {data}\n", "utf-8")
    words = [
        "-n", str(SETTINGS["workers"]), "--cov=powerbudget", "--cov-report=",
        "--cov-context=test", f"--cov-config={folder / 'coveragerc'}", "-vv",
        "--durations=0", "--durations-min=0", "-rN",
    ]  # fmt: skip
    said = run_tests(tree, [*words, *(["--cov-append"] if files else []), *files])[1]
    with (folder / "map.log").open("a" if files else "w", encoding="utf-8") as out:
        out.write(said)


@dataclass(frozen=True)
class Map:
    """Which test executes which line, and how long it takes [s]."""

    seconds: dict[str, float]
    lines: dict[str, dict[int, set[str]]]

    @property
    def busy(self) -> float:
        """How much longer than on a quiet machine the coverage run took [ratio]."""
        return max(1.0, sum(self.seconds.values()) / SETTINGS["whole_s"])


def read_map(folder: Path) -> Map:
    """Return the map of `make_map`, of tests that passed."""
    from coverage import CoverageData

    seconds: dict[str, float] = {}
    passed = set()
    for text in (folder / "map.log").read_text("utf-8").splitlines():
        words = text.split(maxsplit=2)
        if len(words) == 3 and words[1] in {"call", "setup"} and words[0][-1] == "s":
            key = words[2].strip()
            seconds[key] = seconds.get(key, 0.0) + float(words[0][:-1])
        if "PASSED " in text and not any(f in text for f in SETTINGS["left_out"]):
            passed.add(text.split("PASSED ", 1)[1].strip())
    data = CoverageData(str(folder / "coverage"))
    data.read()
    lines = {}
    for file in data.measured_files():
        name = "powerbudget/" + file.rsplit("/powerbudget/", 1)[-1]
        lines[name] = {
            line: {t for t in (c.rsplit("|", 1)[0] for c in known) if t in passed}
            for line, known in data.contexts_by_lineno(file).items()
        }
    return Map({t: seconds.get(t, 0.01) for t in passed}, lines)


def _callers(root: Path) -> dict[str, set[int]]:
    """Return the lines that call a compiled function of another file."""
    compiled = {f"powerbudget.{f[:-3].replace('/', '.')}" for f in SETTINGS["compiled"]}
    found = {}
    for path in (root / "powerbudget").rglob("*.py"):
        name = path.relative_to(root / "powerbudget").as_posix()
        tree = ast.parse(path.read_text("utf-8"))
        names = {
            alias.asname or alias.name
            for node in ast.walk(tree)
            if isinstance(node, ast.ImportFrom)
            for alias in node.names
            if {node.module, f"{node.module}.{alias.name}"} & compiled
            and alias.name != "columns"
        }
        if names and name not in SETTINGS["compiled"]:
            found[f"powerbudget/{name}"] = {
                node.lineno
                for node in ast.walk(tree)
                if isinstance(node, ast.Name) and node.id in names
            }
    return found


def covering(known: Map, root: Path, mutant: Mutant) -> set[str]:
    """Return the tests that execute a mutant's line."""
    lines = known.lines.get(mutant.file, {})
    if mutant.file.removeprefix("powerbudget/") in SETTINGS["compiled"]:
        places_of = _callers(root)
        called = {
            test
            for file, calls in places_of.items()
            for line in calls
            for test in known.lines.get(file, {}).get(line, ())
        }
        return called or _started(known, root)
    tree = ast.parse((root / mutant.file).read_text("utf-8"))
    holds = [
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.stmt)
        and not isinstance(node, ast.FunctionDef | ast.ClassDef)
        and node.lineno <= mutant.line <= (node.end_lineno or node.lineno)
    ]
    span = min(holds, key=lambda n: (n.end_lineno or n.lineno) - n.lineno, default=None)
    reach = (
        range(span.lineno, (span.end_lineno or span.lineno) + 1)
        if span
        else [mutant.line]
    )
    tests = {t for line in reach for t in lines.get(line, ())}
    # What is executed when the file is read belongs to every test of the file; what no
    # test executes in its own process, to those that start the program in another.
    return (
        tests or {t for found in lines.values() for t in found} or _started(known, root)
    )


def _started(known: Map, root: Path) -> set[str]:
    files = {t.split("::")[0] for t in known.seconds if t.startswith("tests/")}
    starting = {f for f in files if "sys.executable" in (root / f).read_text("utf-8")}
    return {t for t in known.seconds if t.split("::")[0] in starting}


def chosen(known: Map, tests: set[str], file: str) -> list[str]:
    """Return the tests to run, those of the same files, and those of whole answers.

    Of these the ones that execute anything of the file, where any does.
    """
    compiled = file.removeprefix("powerbudget/") in SETTINGS["compiled"]
    named = set(SETTINGS["twins"]) if compiled else set()
    twins = {t for t in known.seconds if t.split("::")[0] in named}
    tests = tests | twins

    def rank(test: str) -> tuple[bool, float, str]:
        return test not in twins, known.seconds[test], test

    def quickest(among: set[str], limit_s: float) -> list[str]:
        kept, total = [], 0.0
        for test in sorted(among, key=rank):
            total += known.seconds[test] / known.busy
            if kept and total > limit_s:
                break
            kept.append(test)
        return kept

    first = quickest(tests, SETTINGS["first_s"])
    files = {test.split("::")[0] for test in tests}
    more = {t for t in known.seconds if t.split("::")[0] in files} - set(first)
    found = first + quickest(more, SETTINGS["second_s"])
    last = {t for t in known.seconds if t.split("::")[0] in SETTINGS["last"]}
    touching = set().union(*known.lines.get(file, {}).values()) & last
    last = (touching or last) - set(found)
    return found + quickest(last, SETTINGS["last_s"])


def _forget(path: Path) -> None:
    """Remove what was compiled of a file, and of the kernel where it is part of it."""
    compiled = any(path.as_posix().endswith(name) for name in SETTINGS["compiled"])
    for kept in (path.parent / "__pycache__").glob("*"):
        if kept.name.startswith(f"{path.stem}.") or (compiled and ".nb" in kept.name):
            kept.unlink()


def judge(tree: Path, known: Map, mutant: Mutant) -> dict[str, Any]:
    """Return what the tests said of one mutant."""
    path, began = tree / mutant.file, time.monotonic()
    code = path.read_text("utf-8")
    stamp = path.stat()
    text = mutated(code, mutant.operator, mutant.occurrence)
    assert text is not None
    _forget(path)
    tests = chosen(known, covering(known, tree, mutant), mutant.file)
    try:
        path.write_text(text, "utf-8")
        state, by = _verdict(tree, known, tests)
    finally:
        path.write_text(code, "utf-8")
        os.utime(path, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
        _forget(path)
    spent_s = round(time.monotonic() - began, 1)
    told = {"state": state, "by": by, "tests": len(tests), "seconds": spent_s}
    return {**asdict(mutant), **told}


def _verdict(tree: Path, known: Map, tests: list[str]) -> tuple[str, str]:
    if not tests:
        return "untested", ""
    listed = tree / "chosen.txt"
    listed.write_text("\n".join(tests), "utf-8")
    limit_s = 5 * sum(known.seconds[t] for t in tests) + SETTINGS["grace_s"]
    words = ["-x", "--tb=line", "-rfE", f"@{listed}"]
    code, said = run_tests(tree, words, limit_s)
    if code is None:
        return "killed", f"no end within {limit_s:.0f} s"
    if code == 0:
        return "survived", ""
    failed = [x for x in said.splitlines() if x.startswith(("FAILED", "ERROR", "E  "))]
    # A test that is not found is no verdict; a package that cannot be read is.
    if failed and (code in {1, 2} or (code == 4 and "rror while loading" in said)):
        return "killed", failed[-1]
    return "unclear", said[-600:]


def equivalents() -> list[dict[str, str]]:
    """Return the listed mutants that change no answer."""
    return tomllib.loads((HERE / "equivalent.toml").read_text("utf-8")).get(
        "mutant", []
    )


def run(folder: Path, seed: int, count: int) -> None:
    """Judge the mutants of a seed, and keep each verdict as it comes."""
    known, target = read_map(folder), folder / f"sample-{seed}.jsonl"
    drawn = draw(ROOT, seed, count)
    done = {}
    if target.exists():
        rows = map(json.loads, target.read_text("utf-8").splitlines())
        done = {(r["file"], r["line"], r["operator"], r["occurrence"]) for r in rows}
    left = [m for m in drawn if (m.file, m.line, m.operator, m.occurrence) not in done]
    trees: Queue[Path] = Queue()
    for k in range(SETTINGS["workers"]):
        trees.put(copy(folder / f"mutant-{k}"))

    def one(mutant: Mutant) -> None:
        tree = trees.get()
        try:
            row = judge(tree, known, mutant)
        finally:
            trees.put(tree)
        with target.open("a", encoding="utf-8") as out:
            out.write(json.dumps(row) + "\n")

    with ThreadPoolExecutor(SETTINGS["workers"]) as pool:
        list(pool.map(one, left))
    control(trees.get(), known, target)
    show(folder, seed)


def control(tree: Path, known: Map, target: Path) -> None:
    """Print the tests that noticed a mutant and fail without any as well."""
    rows = [json.loads(text) for text in target.read_text("utf-8").splitlines()]
    named = {row["by"].removeprefix("FAILED ").split(" - ")[0] for row in rows}
    listed = tree / "chosen.txt"
    listed.write_text("\n".join(sorted(named & set(known.seconds))), "utf-8")
    code, said = run_tests(tree, ["--tb=no", "-rfE", f"@{listed}"])
    print(f"the tests that noticed, without a mutant: exit code {code}")
    print(
        *(x for x in said.splitlines() if x.startswith(("FAILED", "ERROR"))), sep="\n"
    )


def show(folder: Path, seed: int) -> None:
    """Print the mutants that were not noticed, and the count."""
    kept = (folder / f"sample-{seed}.jsonl").read_text("utf-8").splitlines()
    rows = [json.loads(text) for text in kept]
    listed = {(e["file"], e["before"], e["after"]) for e in equivalents()}
    for row in rows:
        same = (row["file"], row["before"], row["after"]) in listed
        if row["state"] == "survived" and same:
            row["state"] = "equivalent"
        if row["state"] != "killed":
            print(f"{row['state']}  {row['file']}:{row['line']}  tests {row['tests']}")
            print(f"    - {row['before']}\n    + {row['after']}")
    states = [row["state"] for row in rows]
    for state in sorted(set(states)):
        print(f"{state}: {states.count(state)} of {len(rows)}")


def main(words: list[str]) -> int:
    """Do what the command line asks for; exit code 2 where it asks nothing."""
    match words:
        case ["map", folder, *files]:
            Path(folder).mkdir(parents=True, exist_ok=True)
            make_map(Path(folder).resolve(), files)
        case ["run", folder, *rest]:
            seed = int(rest[0]) if rest else SETTINGS["seed"]
            count = int(rest[1]) if len(rest) > 1 else SETTINGS["mutants"]
            run(Path(folder).resolve(), seed, count)
        case ["show", folder, seed]:
            show(Path(folder), int(seed))
        case _:
            print(__doc__)
            return 2
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
