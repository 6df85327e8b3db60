"""First screens: the answer in 30 lines of 100 columns, the rest behind options."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from powerbudget.errors import Finding
from powerbudget.report.document.words import SEVERITY
from powerbudget.report.screens.layout import CAUTION, Screen, finding_lines, first_line

SITES = Path(__file__).resolve().parents[2] / "sites"
BASIN, PAPER = SITES / "foggy-basin-station.toml", SITES / "balances-on-paper.toml"
COAST, VALVE = SITES / "coastal-meter-run.toml", SITES / "hot-valve-site.toml"
CLAIMS = SITES / "claims" / COAST.name
GALLERY = SITES.parent / "tests" / "pinned" / "gallery"
TOWER, MAST = GALLERY / "tower-cold.toml", GALLERY / "mast-fuel.toml"
OFFER = GALLERY / "mast-fuel-claims.toml"
QUICK = (
    ("run",), ("run", TOWER), ("loads",), ("check",),
    ("check", PAPER), ("review", MAST, OFFER), ("review", CLAIMS),
)  # fmt: skip
LONG = (
    ("size",), ("size", BASIN), ("compare",), ("run", SITES / "propane-relay.toml"),
    ("loads", SITES / "tag-list-station.toml"), ("run", BASIN),
    ("run", SITES / "polar-station.toml"), ("review", COAST, CLAIMS),
)  # fmt: skip
CALLS = [pytest.param(words) for words in QUICK]
CALLS += [pytest.param(words, marks=pytest.mark.slow) for words in LONG]
RESULTS = {
    "run": "PASS|FAIL", "size": "FEASIBLE", "check": "PASS|FAIL|NOT CHECKED",
    "review": "SUPPORTED", "compare": "ROBUST", "loads": "Wh/day",
}  # fmt: skip


SEEN: dict[tuple[object, ...], str] = {}


@pytest.fixture
def screen_of(call):
    """Return what gives the first screen of a call, each worked out once."""

    def screen(*words):
        if words not in SEEN:
            SEEN[words] = call(*words)[1]
        return SEEN[words]

    return screen


@pytest.mark.parametrize("words", CALLS)
def test_a_first_screen_is_short_and_says_the_result_first(call, screen_of, words):
    """Verb and result stand first, the caution last; 30 lines, 100 columns."""
    page = screen_of(*words)
    lines = page.splitlines()
    assert 15 <= len(lines) <= 31
    assert max(map(len, lines)) <= 100
    assert lines[0].startswith(f"{words[0].upper()} ")
    assert re.search(RESULTS[words[0]], lines[0])
    assert lines[-1].endswith(CAUTION)
    assert sum(line.startswith("WARNING") for line in lines) <= 3
    assert sum(line.startswith("NOTE") for line in lines) <= 2
    assert "degC" not in page
    assert call(*words, "-q")[1] == f"{lines[0]}\n"


OPTIONS = {
    ("run", TOWER): {"--outages": "9 Jan 2001"},
    ("run", VALVE): {
        "--monthly": "Dec", "--battery": "temperature",
        "--losses": "loads served", "--end-of-life": "end of life",
        "--findings": "WARNING", "--cautions": "hydrogen", "--full": "status of its figures",
    },
    ("check", PAPER): {
        "--pass": "PASS", "--basis": "Rules", "--profile": "Voltage profile",
        "--cautions": "hydrogen", "--full": "Cause and remedy",
    },
    ("check", COAST): {"--missing": "minimum_input"},
    ("review", MAST, OFFER): {
        "--requests": "Information required", "--sources": "S1", "--basis": "5. ",
        "--full": "SUPPORTED",
    },
    ("loads",): {"--basis": "published", "--full": "Two-wire loops"},
}  # fmt: skip
NAMED = [
    (words, option, said)
    for words, each in OPTIONS.items()
    for option, said in each.items()
]


@pytest.mark.parametrize(("words", "option", "said"), NAMED)
def test_an_option_prints_what_it_names(call, screen_of, words, option, said):
    """The result line and the part asked for; `--full` the screen and every part."""
    page, screen = call(*words, option)[1], screen_of(*words)
    assert page.splitlines()[0] == screen.splitlines()[0]
    body = page.removeprefix(screen if option == "--full" else page.splitlines()[0])
    assert said in body
    assert (screen in page) == (option == "--full")


def test_one_claim_is_printed_alone(call):
    """`--claim 3` prints the third claim and no other."""
    page = call("review", MAST, OFFER, "--claim", "3")[1]
    assert re.findall(r"(?m)^(\d)\. ", page) == ["3"]


def test_findings_past_the_room_are_counted():
    """Nothing is dropped in silence: what has no room is counted by its severity."""
    found = [Finding("warning", f"First {n}. More of it.") for n in range(5)]
    found += [Finding("note", f"Noted {n}.") for n in range(4)]
    lines = finding_lines(found, 20)
    assert [line for line in lines if line.startswith("WARNING")] == [
        f"WARNING  First {n}." for n in range(3)
    ]
    assert sum(line.startswith("NOTE") for line in lines) == 2
    assert lines[-1] == "and 2 more WARNINGs, 2 more NOTEs: --findings"
    assert len(finding_lines(found, 3)) <= 4
    assert finding_lines([], 9) == []


def test_a_long_name_is_never_cut():
    """Name and result both stand whole, on two lines where one is too short."""
    name = "a station with a name of many words " * 3
    first, second = first_line("RUN", name, "PASS   0 FAIL, 6 PASS").splitlines()
    assert first == "RUN    PASS   0 FAIL, 6 PASS"
    assert second.strip() == name.strip()


def test_margins_are_explained_only_where_they_stand():
    """A screen without margins does not say what they are shares of."""
    plain = Screen("RUN", ["Load 3 W"], (), "--full")
    assert "of the limit" not in plain.text
    assert "margin: % of the limit" in replace(plain, body=["limit margin"]).text


def test_the_gravest_findings_come_first():
    """A warning never stands behind a note, nor what is serious behind a warning."""
    said = finding_lines([Finding("note", "A."), Finding("warning", "B."),
                          Finding("serious", "C.")], 9)  # fmt: skip
    assert [line[-2] for line in said] == ["C", "B", "A"]
    assert list(SEVERITY) == ["serious", "warning", "note"]


def test_the_revision_block_stands_in_the_title_block(tmp_path, call):
    """Number, revision and people of [document] are on the page, escaped."""
    text = BASIN.read_text(encoding="utf-8").replace(
        "[bus]", '[document]\nnumber = "PB-017"\nrevision = "B"\nby = "A <b>"\n'
        'checked = "C"\ncompany = "Example"\n\n[bus]', 1)  # fmt: skip
    site = tmp_path / "site.toml"
    site.write_text(text, encoding="utf-8")
    from powerbudget.report.document.package import Package
    from powerbudget.report.render.html import title_block
    from powerbudget.site.reader import read_site

    cells = dict(title_block(Package(read_site(site)), "2026-01-02"))
    assert cells["Document"] == "PB-017, revision B"
    assert cells["By"] == "A <b>; checked C"
    assert cells["Date"] == "2026-01-02"
    assert cells["Company"] == "Example"
    bare = dict(title_block(Package(read_site(BASIN)), "2026-01-02"))
    assert {"Document", "By", "Company"}.isdisjoint(bare)
