"""Cautions as a section."""

from __future__ import annotations

from powerbudget.report.page.blocks import Fact, Facts, Section

CAUTIONS = (
    ("hydrogen", "Batteries give off hydrogen while charging. A box or vault is ventilated, "
     "never gas-tight, and nothing in it may spark."),
    ("hazardous areas", "The area around wellheads and vents may be classified. Batteries, "
     "regulators, fuses and relays are ignition sources there."),
    ("short circuit", "A battery delivers thousands of amperes into a short circuit. Fuses "
     "stand at its terminals; tools are insulated; rings come off."),
    ("masts and lifting", "Panels carry wind and snow. Masts, footings and lifting are "
     "designed by somebody who may."),
    ("fuel", "Where fuel is burnt beside this plant, its tanks, lines and vents have rules "
     "of their own."),
)  # fmt: skip


def cautions_section() -> Section:
    """Return what the calculation does not cover and who decides."""
    rows = tuple(Fact(label, text) for label, text in CAUTIONS)
    return Section(
        "cautions", "Cautions", "Cautions",
        "This is a calculation, not an approval. The codes in force at the site and "
        "licensed people decide.",
        (Facts(rows),),
    )  # fmt: skip
