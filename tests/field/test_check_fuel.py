"""A burner that starves in the cold fails its check; panels that are not there do not."""

from __future__ import annotations

from pathlib import Path

import pytest

from powerbudget.checks.registry import check
from powerbudget.site.reader import read_site

SITES = Path(__file__).resolve().parents[2] / "sites"


def test_propane_that_starves_in_the_cold_fails():
    """The coldest liquid stands against what the burner needs, and the hours are told."""
    report = check(read_site(SITES / "propane-relay.toml"))
    found = next(c for c in report.checks if c.name == "minimum supply pressure, cold")
    assert found.verdict == "fail"
    assert found.value < found.limit < -25
    assert found.margin == pytest.approx(found.value - found.limit)
    assert "h too cold" in found.detail


@pytest.mark.parametrize("site", ["propane-relay", "gas-well-free-gas"])
def test_a_site_without_panels_is_not_blamed_for_them(site):
    """No check of strings, array fuses or array wires is made, nor asked figures for."""
    report = check(read_site(SITES / f"{site}.toml"))
    names = {c.name for c in (*report.checks, *report.not_checked)}
    assert not {n for n in names if "array" in n or "string" in n or "class" in n}


def test_site_gas_has_no_vapour_to_run_short_of():
    """Only liquid fuel that must boil is checked for pressure."""
    report = check(read_site(SITES / "gas-well-free-gas.toml"))
    assert "minimum supply pressure, cold" not in {c.name for c in report.checks}


@pytest.mark.parametrize(
    # The burner gives most in the cold: 1.10 times its 54 W.
    ("site", "watts"),
    [("propane-relay", 59.4), ("winter-hybrid", 100)],
)
def test_generators_charge_the_bank_as_the_array_does(site, watts):
    """Their current at a sagging bus is in the highest charge current, never 0 A."""
    report = check(read_site(SITES / f"{site}.toml"))
    found = next(c for c in report.checks if c.name == "charge current, maximum")
    given = watts / (0.95 * 24)
    assert found.value == pytest.approx(report.facts.array_charge_a + given)
    assert "generators: up to" in found.detail
    assert ("array" in found.detail) == (site == "winter-hybrid")


def test_a_site_without_a_regulator_is_not_asked_for_its_temperatures():
    """What the site does not have cannot lack a figure."""
    report = check(read_site(SITES / "propane-relay.toml"))
    asked = {c.name for c in report.not_checked if c.subject == "charge controller"}
    # Its set points are those of the battery, which the burner charges too.
    assert asked <= {"temperature compensation"}
