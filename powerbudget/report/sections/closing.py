"""Cautions as a section."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.checks.cautions import cautions
from powerbudget.report.document.blocks import Fact, Facts, Section

if TYPE_CHECKING:
    from powerbudget.report.document.package import Package


def cautions_section(package: Package) -> Section:
    """Return what the calculation does not cover and who decides.

    Parameters
    ----------
    package
        All results; chemistry and fuel decide which cautions there are.
    """
    found = cautions(package.run.bank, fuel=bool(package.tables.generator))
    rows = tuple(Fact(caution.topic, caution.text) for caution in found)
    return Section(
        "cautions", "Cautions", "Cautions",
        "This is a calculation, not an approval. The codes in force at the site "
"and licensed persons decide.",
        (Facts(rows),),
    )  # fmt: skip
