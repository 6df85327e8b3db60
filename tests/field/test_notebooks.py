"""The notebooks run from top to bottom and stay small."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
LARGEST_BYTES = 200_000


def _outputs(path):
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return [cell for cell in cells if cell["cell_type"] == "code"]


def test_there_are_notebooks():
    """A folder that was emptied does not pass as checked."""
    assert len(NOTEBOOKS) == 3


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_notebook_is_executed_and_small(path):
    """Every code cell was run in order, none failed, and pictures are small."""
    cells = _outputs(path)
    assert [cell["execution_count"] for cell in cells] == list(range(1, len(cells) + 1))
    kinds = {out["output_type"] for cell in cells for out in cell["outputs"]}
    assert "error" not in kinds
    assert path.stat().st_size < LARGEST_BYTES


@pytest.mark.slow
@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_notebook_runs_and_prints_what_it_shows(path, monkeypatch):
    """Executed afresh, a notebook prints the very text that is stored in it."""
    nbformat = pytest.importorskip("nbformat", reason="pip install nbclient ipykernel")
    nbclient = pytest.importorskip("nbclient", reason="pip install nbclient ipykernel")
    monkeypatch.setenv("PYTHONPATH", str(ROOT))
    notebook = nbformat.read(path, as_version=4)
    before = [_text(cell) for cell in notebook.cells if cell.cell_type == "code"]
    nbclient.NotebookClient(
        notebook, timeout=300, resources={"metadata": {"path": str(path.parent)}}
    ).execute()
    after = [_text(cell) for cell in notebook.cells if cell.cell_type == "code"]
    assert after == before


def _text(cell):
    """Return what a cell printed; tables may be laid out anew by another pandas."""
    return "".join(out.text for out in cell.outputs if out.output_type == "stream")
