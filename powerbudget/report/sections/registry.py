"""Which sections the page has, in order; each is left out when it has nothing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from powerbudget.report.document.blocks import Block, Section
from powerbudget.report.document.package import Package, site_file_name
from powerbudget.report.sections.alternatives import options_section
from powerbudget.report.sections.assumptions import assumptions_section
from powerbudget.report.sections.basis import basis_section
from powerbudget.report.sections.battery import autonomy_section, battery_section
from powerbudget.report.sections.checks import checks_section
from powerbudget.report.sections.claims import claims_section
from powerbudget.report.sections.closing import cautions_section
from powerbudget.report.sections.generators import generator_section
from powerbudget.report.sections.lists import lists_section
from powerbudget.report.sections.loads import loads_section
from powerbudget.report.sections.provenance import provenance_section
from powerbudget.report.sections.sizing import sizing_section, worksheet_section
from powerbudget.report.sections.sky import sky_section
from powerbudget.report.sections.sources import Sources
from powerbudget.report.sections.summary import figures_section, summary_section
from powerbudget.report.sections.uncertainty import odds_section, sensitivity_section
from powerbudget.report.sections.unverified import unverified_of
from powerbudget.report.sections.view import view_section

Builder = Callable[[Package, Sources], Section | None]

BUILDERS: tuple[Builder, ...] = (
    summary_section,
    figures_section,
    basis_section,
    loads_section,
    unverified_of,
    lists_section,
    sky_section,
    battery_section,
    generator_section,
    autonomy_section,
    view_section,
    sizing_section,
    sensitivity_section,
    odds_section,
    worksheet_section,
    checks_section,
    claims_section,
    options_section,
)
"""To add a section, write a function that returns it, or None, and name it here."""


def sections(package: Package, made: str) -> tuple[Section, ...]:
    """Return every section that has something to say.

    Parameters
    ----------
    package
        All results.
    made
        When the package was made [text].
    """
    sources = Sources(site_file_name(package.design.path))
    found = built(BUILDERS, package, sources)
    # Sources are complete only when every other section has named its own.
    found.append(assumptions_section(package, sources))
    found.append(cautions_section(package))
    found.append(provenance_section(package, made))
    return tuple(section for section in found if section is not None)


ANNEX = frozenset({
    "lists", "worksheet", "assumptions", "cautions", "provenance",
    "daily-load", "rack", "loops", "months", "dark-runs", "run-months", "outages", "hand",
    "generators-care", "generator-months", "generator-silence", "generator-outages",
    "view-months", "view-settings", "view-lost", "designs", "odds-inputs", "odds-tried",
    "circuit-checks", "voltage-profile", "loop-volts", "check-rules", "not-checked",
    "missing-inputs", "figures-found", "unverified-lines", "gaps", "register",
    "equipment", "costs-by-kind", "turns", "supply-months", "prices",
})  # fmt: skip
"""Sections and blocks that stand behind the body: what is ticked, not what is read."""


def in_order(found: Sequence[Section]) -> tuple[Section, ...]:
    """Return body and annex with their numbers, a section's annexed blocks apart."""
    body = [_only(s, annexed=False) for s in found if s.key not in ANNEX]
    annex = [s if s.key in ANNEX else _only(s, annexed=True) for s in found]
    return (
        *(replace(s, number=f"{n}") for n, s in enumerate(body, 1)),
        *(replace(s, number=f"A{n}")
          for n, s in enumerate((s for s in annex if s.blocks), 1)),
    )  # fmt: skip


def _only(section: Section, *, annexed: bool) -> Section:
    kept = tuple(b for b in section.blocks if (_annexed(b)) == annexed)
    if not annexed:
        return replace(section, blocks=kept)
    return replace(section, key=f"{section.key}-annex", lead="", blocks=kept,
                   title=f"{section.title}: details")  # fmt: skip


def _annexed(block: Block) -> bool:
    key = getattr(block, "key", "")
    return key in ANNEX or key.startswith("claim-")


RUN = (
    basis_section,
    battery_section,
    generator_section,
    autonomy_section,
    view_section,
)
"""Sections of `run`."""
SIZE = (sizing_section, worksheet_section)
"""Sections of `size`."""


def built(
    builders: Sequence[Builder], package: Package, sources: Sources
) -> list[Section | None]:
    """Return some of the sections.

    Parameters
    ----------
    builders
        Of the sections wanted.
    package, sources
        All results, and the sources named so far.
    """
    return [build(package, sources) for build in builders]
