"""Checks, claims and options stand on the page where they were asked for."""

from __future__ import annotations

import re
from pathlib import Path

import html5lib
import pytest
from openpyxl import load_workbook

import powerbudget as pb
from powerbudget.errors import InputError

pytestmark = pytest.mark.slow

ROOT = Path(__file__).resolve().parents[2]
SITE = ROOT / "sites" / "coastal-meter-run.toml"
CLAIMS = ROOT / "sites" / "claims" / "coastal-meter-run.toml"


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    """Return the page of a site with claims and options."""
    target = tmp_path_factory.mktemp("page") / "full.html"
    pb.write_report(pb.read_site(SITE), target, claims=CLAIMS, options=True)
    return target.read_text(encoding="utf-8")


def _section(page, key):
    found = re.search(rf'<section[^>]*id="{key}".*?</section>', page, re.DOTALL)
    assert found, key
    return found.group()


def test_every_check_stands_on_the_page(page):
    """Each check of the verb has its row, and what is not checked is told."""
    report = pb.check(pb.read_site(SITE))
    part = _section(page, "checks")
    for check in report.checks:
        assert check.name in part
    assert f"{report.counts['pass']} pass" in part
    assert f"{report.counts['not_checked']} not checked" in part


def test_every_claim_stands_on_the_page_with_its_verdict(page):
    """Eight claims, each with the verdict of the verb."""
    found = pb.review(pb.read_site(SITE), CLAIMS)
    part = _section(page, "claims")
    for claim in found.claims:
        assert f"claim {claim.number}, {claim.verdict}" in part


def test_every_option_stands_on_the_page(page):
    """Solar comes first on this site, and each option has its row and price."""
    part = _section(page, "options")
    assert "solar and battery" in part.split("thermoelectric")[0]
    assert "Where the order turns" in part
    assert "Every price that this rests on" in part


def test_the_longer_page_is_sound_markup(page):
    """Strict parsing finds no error, and no id stands twice."""
    html5lib.HTMLParser(strict=True).parse(page)
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))


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
        pb.write_report(pb.read_site(SITE), target, claims=tmp_path / "no-claims.toml")
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
    assert "no panels" in text
    assert "fuel pressure in the cold" in text
