"""Checks, claims and options stand on the page where they were asked for."""

from __future__ import annotations

import hashlib
import html
import re
from pathlib import Path

import pytest
from openpyxl import load_workbook

import powerbudget as pb
from powerbudget.errors import InputError
from powerbudget.report.sections.claims import result_word

pytestmark = pytest.mark.slow

ROOT = Path(__file__).resolve().parents[2]
SITE = ROOT / "sites" / "coastal-meter-run.toml"
CLAIMS = ROOT / "sites" / "claims" / "coastal-meter-run.toml"


@pytest.fixture(scope="module")
def page(page_of):
    """Return the page of a site with every extra."""
    return page_of("full")


def _section(page, key):
    """Return a section of the body and what of it stands in the annex."""
    parts = rf'<section[^>]*id="{key}(?:-annex)?".*?</section>'
    found = re.findall(parts, page, re.DOTALL)
    assert found, key
    return "".join(found)


def test_every_check_stands_on_the_page(page):
    """Each check of the verb has its row, and what is not checked is told."""
    report = pb.check(pb.read_site(SITE))
    part = _section(page, "checks")
    for check in report.checks:
        assert check.name in part
    assert f"{report.counts['pass']} PASS" in part.replace("\u00a0", " ")
    assert f"{report.counts['not_checked']} NOT CHECKED" in part.replace("\u00a0", " ")


def test_every_claim_stands_on_the_page_with_its_verdict(page):
    """Eight claims, each with the verdict of the verb."""
    found = pb.review(pb.read_site(SITE), CLAIMS)
    part = _section(page, "claims")
    for claim in found.claims:
        title = f"{claim.number}. {html.escape(claim.claim)}: {result_word(claim)}"
        assert title in part.replace("\u00a0", " ")


def test_every_option_stands_on_the_page(page):
    """Solar comes first on this site, and each option has its row and price."""
    part = _section(page, "options")
    assert "PV and battery" in part.split("thermoelectric")[0]
    assert "Break-even values" in part
    assert "Cost inputs" in part


def test_every_month_and_setting_of_the_autonomy_stands_on_the_page(page, package_of):
    """The section holds the figures of `run --autonomy`."""
    view = pb.autonomy_view(pb.simulate(pb.read_site(SITE)))
    part = _section(page, "view")
    assert package_of("full").view.by_month_days == view.by_month_days
    for days in (*view.by_month_days, *(row.design_days for row in view.settings)):
        assert f">{days:.1f}<" in part
    assert "Without charging from the worst hour" in part


def test_every_size_of_the_ensemble_stands_on_the_page(page, package_of):
    """The section holds each size with its probability, and the seed that repeats it."""
    odds = package_of("full").odds
    part = _section(page, "odds")
    assert part.count("<tr") == 3 + 3 + len(odds.influences) + len(odds.candidates)
    assert "60 winters, random seed 7" in part
    assert "Monte Carlo simulation: random seed 7" in _section(page, "provenance")


def test_the_page_tells_how_it_is_made_again(page):
    """The command line with every extra, and the fingerprint of the claims."""
    part = _section(page, "provenance")
    again = (
        "--claims coastal-meter-run.toml --options --autonomy --monte-carlo 60 --seed 7"
    )
    assert again in part
    assert hashlib.sha256(CLAIMS.read_bytes()).hexdigest() in part


@pytest.mark.parametrize(
    ("extras", "words"),
    [(pb.Extras(seasons=0), "at least one"), (pb.Extras(seed=-1), "below zero"),
     (pb.Extras(seasons=10), "needs an array")],
)  # fmt: skip
def test_an_ensemble_that_cannot_be_is_refused_before_the_work(tmp_path, extras, words):
    """No season, a seed below zero, or a site without panels."""
    relay = pb.read_site(ROOT / "sites" / "propane-relay.toml")
    site = relay if words == "needs an array" else pb.read_site(SITE)
    with pytest.raises(InputError, match=words):
        pb.write_report(site, tmp_path / "x.html", extras=extras)
    assert not list(tmp_path.iterdir())


def test_cautions_are_those_of_the_checks(page):
    """One text of cautions serves every page."""
    part = _section(page, "cautions")
    for caution in pb.check(pb.read_site(SITE)).cautions:
        assert caution.topic in part


def test_without_claims_and_options_their_sections_are_left_out(tmp_path):
    """A page that was not asked for them says nothing of them; checks always stand."""
    target = tmp_path / "plain.xlsx"
    pb.write_report(pb.read_site(SITE), target)
    names = load_workbook(target, read_only=True).sheetnames
    assert any("check" in name.lower() for name in names)
    assert not any("option" in name.lower() for name in names)


def test_a_claims_file_that_is_not_there_is_said_before_the_work(tmp_path):
    """Nothing is computed and nothing written where the claims cannot be read."""
    target = tmp_path / "x.html"
    with pytest.raises(InputError, match="claims"):
        pb.write_report(pb.read_site(SITE), target,
                        extras=pb.Extras(claims=tmp_path / "no-claims.toml"))  # fmt: skip
    assert not target.exists()


@pytest.mark.parametrize("ending", ["html", "xlsx"])
def test_a_site_without_panels_has_its_package(tmp_path, ending):
    """A generator alone is reported without a frontier, and no link leads nowhere."""
    target = tmp_path / f"relay.{ending}"
    done = pb.write_report(pb.read_site(ROOT / "sites" / "propane-relay.toml"), target)
    assert not done.met
    if ending == "xlsx":
        assert "Worksheet" not in load_workbook(target, read_only=True).sheetnames
        return
    text = target.read_text(encoding="utf-8")
    ids = set(re.findall(r'\bid="([^"]+)"', text))
    links = set(re.findall(r'href="#([^"]+)"', text))
    assert links <= ids, links - ids
    assert "The site has no array" in text
    assert "minimum supply pressure, cold" in text
