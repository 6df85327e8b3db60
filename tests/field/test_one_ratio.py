"""The array-to-load ratio that a person reads is one figure on every page."""

from __future__ import annotations

from pathlib import Path

from powerbudget.balance.problem import prepare
from powerbudget.balance.simulation import simulate_size
from powerbudget.report.sections.sources import Sources
from powerbudget.report.sections.summary import _ratio
from powerbudget.review.claims_file import claims_of
from powerbudget.review.reviewer import review
from powerbudget.review.sun_claims import array_w
from powerbudget.review.variants import Desk
from powerbudget.site.reader import read_site

SITES = Path(__file__).resolve().parents[2] / "sites"


def test_run_review_and_page_print_one_ratio(package_of):
    """A claim of the site's own array is judged by the ratio that `run` prints."""
    design = read_site(SITES / "hot-valve-site.toml")
    run = simulate_size(prepare(design))
    watts = array_w(Desk(design))
    claims = claims_of({"claim": [{"kind": "array", "claimed": f"{watts:g} W"}]})
    remarks = review(design, claims).claims[0].remarks
    assert any(run.array_to_load.text in text for text in remarks)
    package = package_of("full")
    found = _ratio(package, Sources("site.toml"))
    assert found.value == f"{package.run.array_to_load.ratio:.2f}"
