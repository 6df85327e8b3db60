"""The page in a real browser: widths, scripts on and off, paper, accessibility."""

from __future__ import annotations

import shutil
import subprocess

import pytest

pytestmark = pytest.mark.slow

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
WIDTHS = (360, 1024, 1600)
PAGES = ("starter", "nasty", "full")


@pytest.fixture(scope="module")
def files(tmp_path_factory, page_of):
    """Return the addresses of the pages on disk."""
    folder = tmp_path_factory.mktemp("pages")
    for name in PAGES:
        (folder / f"{name}.html").write_text(page_of(name), encoding="utf-8")
    return {name: (folder / f"{name}.html").as_uri() for name in PAGES}


@pytest.fixture(scope="module")
def browser():
    """Return the system's Chromium, driven without a display."""
    playwright = pytest.importorskip(
        "playwright.sync_api", reason="needs playwright: pip install playwright"
    )
    if CHROMIUM is None:
        pytest.skip("needs Chromium: apt-get install chromium")
    with playwright.sync_playwright() as driver:
        found = driver.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"]
        )
        yield found
        found.close()


@pytest.fixture
def visit(browser, files):
    """Return a function that opens a page and notes whatever goes wrong on it."""
    contexts = []

    def open_page(name, width=1024, **options):
        context = browser.new_context(
            viewport={"width": width, "height": 900}, bypass_csp=True, **options
        )
        contexts.append(context)
        page = context.new_page()
        page.wrong = []
        page.asked = []
        page.on("console", lambda m: page.wrong.append(m.text))
        page.on("pageerror", lambda e: page.wrong.append(str(e)))
        page.on("dialog", lambda d: (page.wrong.append(d.message), d.dismiss()))
        page.on("request", lambda r: page.asked.append(r.url))
        page.goto(files[name])
        return page

    yield open_page
    for context in contexts:
        context.close()


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("width", WIDTHS)
def test_it_opens_without_errors_and_never_scrolls_sideways(visit, name, width):
    """Nothing in the console, nothing asked for but the file, no sideways scrolling."""
    page = visit(name, width)
    assert page.wrong == []
    assert all(u.startswith(("file:", "data:")) for u in page.asked)
    assert len([u for u in page.asked if u.startswith("file:")]) == 1
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_its_own_policy_lets_only_its_own_script_run(browser, files):
    """A script that got onto the page by other means does not run."""
    context = browser.new_context()
    page = context.new_page()
    page.goto(files["starter"])
    page.evaluate(
        "() => { const s = document.createElement('script');"
        "s.textContent = 'window.slipped = 1'; document.body.append(s); }"
    )
    assert page.evaluate("window.slipped === undefined")
    assert page.evaluate("document.querySelectorAll('details[open]').length") == 0
    context.close()


@pytest.mark.parametrize(
    ("name", "width"), [("starter", 360), ("nasty", 360), ("full", 360), ("full", 1024)]
)
def test_axe_finds_no_barrier(visit, name, width):
    """The accessibility checker finds nothing, best practices included."""
    axe = pytest.importorskip(
        "axe_playwright_python.sync_playwright",
        reason="needs axe-playwright-python: pip install axe-playwright-python",
    )
    found = axe.Axe().run(visit(name, width)).response["violations"]
    assert [(v["id"], [n["target"] for n in v["nodes"]][:3]) for v in found] == []


def test_without_scripts_everything_is_there(visit):
    """Formulas are open, all designs and all rows are shown."""
    bare, full = visit("starter", java_script_enabled=False), visit("starter")
    assert bare.locator("details:not([open])").count() == 0
    panels = bare.locator(".panel")
    assert panels.count() == full.locator(".panel").count() > 1
    assert all(panels.nth(k).is_visible() for k in range(panels.count()))
    words = set(bare.locator("main").inner_text().split())
    more = set(full.locator("main").inner_text().split())
    # What the script adds are arrows, the filters' labels and the choice of a design.
    tools = {"Show", "rows", "with", "Design", "to", "look", "at", "↕", "recommended"}
    assert more - words <= tools


def test_a_point_of_the_frontier_shows_its_design(visit):
    """Picking a point, or a design from the list, shows its figures and no other's."""
    page = visit("starter")
    shown = page.locator(".panel:visible")
    assert shown.count() == 1
    assert "recommended" in shown.locator("h3").inner_text()
    points = page.locator("a.point")
    assert points.count() == page.locator(".panel").count()
    last = points.count() - 1
    points.nth(last).click()
    assert shown.count() == 1
    assert shown.get_attribute("id") == f"design-{last + 1}"
    label = points.nth(last).inner_text()
    assert label == shown.locator("h3").inner_text()
    page.locator("#designs-choice").select_option("design-1")
    assert shown.get_attribute("id") == "design-1"
    assert page.wrong == []


def test_a_table_sorts_by_number_with_keys_and_filters(visit):
    """The budget sorts by energy both ways and keeps its sum below; a filter hides rows."""
    page = visit("starter")
    heads = page.locator("#lines thead th").all_inner_texts()
    energy = next(k for k, text in enumerate(heads) if text.startswith("energy"))
    head = page.locator("#lines thead th").nth(energy).locator("[role=button]")
    cells = (
        "rows => rows.filter(r => !r.classList.contains('total'))"
        f".map(r => +r.cells[{energy}].dataset.sort)"
    )
    before = page.eval_on_selector_all("#lines tbody tr", cells)
    head.focus()
    page.keyboard.press("Enter")
    rising = page.eval_on_selector_all("#lines tbody tr", cells)
    assert rising == sorted(before) != before
    page.keyboard.press("Space")
    assert page.eval_on_selector_all("#lines tbody tr", cells) == rising[::-1]
    assert "sum" in page.locator("#lines tbody tr").last.inner_text()
    page.get_by_label("Show rows with").first.fill("radio")
    assert page.locator("#lines tbody tr:visible").count() == 1
    assert "1 of" in page.locator(".filter output").first.inner_text()


def test_three_clicks_lead_from_a_figure_to_its_source(visit):
    """Open how the load was found, go to its largest line, go to that line's source."""
    page = visit("starter")
    card = page.locator("#figure-energy")
    card.locator("summary").click()
    card.locator("details a").first.click()
    row = page.locator("tr:target")
    assert "Coriolis gas meter" in row.inner_text()
    row.locator("a").last.click()
    source = page.locator("tr:target")
    assert source.get_attribute("id").startswith("source-")
    assert len(source.inner_text()) > 10


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_print_holds_everything(visit, tmp_path, paper):
    """On paper formulas and all designs are open, filters are gone, nothing is cut off."""
    if shutil.which("pdftotext") is None:
        pytest.skip("needs pdftotext: apt-get install poppler-utils")
    page = visit("starter")
    page.get_by_label("Show rows with").first.fill("radio")
    path = tmp_path / "print.pdf"
    page.pdf(path=str(path), format=paper)
    text = subprocess.run(["pdftotext", "-layout", str(path), "-"],
                          capture_output=True, text=True, check=True).stdout  # fmt: skip
    plain = " ".join(text.replace("\u00a0", " ").split())
    assert "sum of power" in plain
    assert "Coriolis gas meter" in plain
    assert "Show rows with" not in plain
    for k in range(page.locator(".panel").count()):
        title = page.locator(".panel h3").nth(k).text_content().split(" recommended")[0]
        assert " ".join(title.split()) in plain
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 700, "height": 1000})
    over = (
        "() => [...document.querySelectorAll('table')]"
        ".filter(t => t.offsetParent && t.scrollWidth > 702).map(t => t.id)"
    )
    assert page.evaluate(over) == []
