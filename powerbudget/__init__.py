"""Power budget, hourly battery and sizing for unattended off-grid sites.

Equipment list and place in; hourly load, hourly battery, days of autonomy, panel
and battery needed out.  Everything that the command line does is one call here.
Names are loaded on first use, so that importing the package costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from powerbudget.balance.events import Outage
    from powerbudget.balance.simulation import Simulation, simulate
    from powerbudget.checks.registry import CheckReport, check
    from powerbudget.checks.result import Check
    from powerbudget.compare.alternative import Option
    from powerbudget.compare.comparison import Comparison, compare
    from powerbudget.errors import (
        DataError,
        DidNotConverge,
        Finding,
        InputError,
        ModelRangeError,
        PowerBudgetError,
        PowerBudgetWarning,
    )
    from powerbudget.fleet.fleet import FleetRow, fleet
    from powerbudget.loads.budget import Budget, Line, load_budget
    from powerbudget.report.extras import Extras
    from powerbudget.report.write import write_report
    from powerbudget.review.claims_file import ClaimsFile, read_claims
    from powerbudget.review.result import Judged, Review
    from powerbudget.review.reviewer import review
    from powerbudget.site.ensemble import Spread
    from powerbudget.site.reader import Design, read_site
    from powerbudget.sizing.aging import Outlook, outlook
    from powerbudget.sizing.autonomy import Autonomy, autonomy
    from powerbudget.sizing.autonomy_view import AutonomyView, autonomy_view
    from powerbudget.sizing.candidates import Candidate
    from powerbudget.sizing.search import Sizing, size
    from powerbudget.sizing.uncertainty.monte_carlo import Ensemble, ensemble
    from powerbudget.sizing.uncertainty.reliability import Reliability, reliability_view
    from powerbudget.sizing.worksheet.against_record import Disagreement
    from powerbudget.sizing.worksheet.duty_cycle import duty_cycle_ah
    from powerbudget.sizing.worksheet.figures import (
        ArrayFigures,
        BatteryFigures,
        LoadFigures,
        SheetLoad,
        loads_from,
    )
    from powerbudget.sizing.worksheet.formulas import WorksheetLine
    from powerbudget.sizing.worksheet.lines import worksheet_from
    from powerbudget.sizing.worksheet.site_figures import make_worksheet
    from powerbudget.weather import WeatherRecord, read_weather

_HOMES = {
    "ArrayFigures": "sizing.figures",
    "Autonomy": "sizing.autonomy",
    "AutonomyView": "sizing.autonomy_view",
    "BatteryFigures": "sizing.figures",
    "Budget": "loads.budget",
    "Candidate": "sizing.candidate",
    "Check": "checks.result",
    "CheckReport": "checks.registry",
    "ClaimsFile": "review.claimsfile",
    "Comparison": "compare.rank",
    "DataError": "errors",
    "Design": "site.reader",
    "DidNotConverge": "errors",
    "Disagreement": "sizing.disagreement",
    "Ensemble": "sizing.ensemble",
    "Finding": "errors",
    "Extras": "report.extras",
    "FleetRow": "sizing.fleet",
    "InputError": "errors",
    "Judged": "review.verdict",
    "Line": "loads.budget",
    "LoadFigures": "sizing.figures",
    "ModelRangeError": "errors",
    "Option": "compare.options",
    "Outage": "balance.events",
    "Outlook": "sizing.outlook",
    "PowerBudgetError": "errors",
    "PowerBudgetWarning": "errors",
    "Reliability": "sizing.reliability",
    "Review": "review.verdict",
    "SheetLoad": "sizing.figures",
    "Simulation": "balance.simulation",
    "Sizing": "sizing.search",
    "Spread": "site.ensemblemodel",
    "WeatherRecord": "weather",
    "WorksheetLine": "sizing.worksheet",
    "autonomy": "sizing.autonomy",
    "autonomy_view": "sizing.autonomy_view",
    "check": "checks.registry",
    "compare": "compare.rank",
    "duty_cycle_ah": "sizing.duty_cycle",
    "ensemble": "sizing.ensemble",
    "fleet": "sizing.fleet",
    "load_budget": "loads.budget",
    "loads_from": "sizing.figures",
    "make_worksheet": "sizing.sitesheet",
    "outlook": "sizing.outlook",
    "read_claims": "review.claimsfile",
    "read_site": "site.reader",
    "read_weather": "weather",
    "reliability_view": "sizing.reliability",
    "review": "review.reviewer",
    "simulate": "balance.simulation",
    "size": "sizing.search",
    "worksheet_from": "sizing.sheetlines",
    "write_report": "report.write",
}

__all__ = [
    "ArrayFigures",
    "Autonomy",
    "AutonomyView",
    "BatteryFigures",
    "Budget",
    "Candidate",
    "Check",
    "CheckReport",
    "ClaimsFile",
    "Comparison",
    "DataError",
    "Design",
    "DidNotConverge",
    "Disagreement",
    "Ensemble",
    "Extras",
    "Finding",
    "FleetRow",
    "InputError",
    "Judged",
    "Line",
    "LoadFigures",
    "ModelRangeError",
    "Option",
    "Outage",
    "Outlook",
    "PowerBudgetError",
    "PowerBudgetWarning",
    "Reliability",
    "Review",
    "SheetLoad",
    "Simulation",
    "Sizing",
    "Spread",
    "WeatherRecord",
    "WorksheetLine",
    "__version__",
    "autonomy",
    "autonomy_view",
    "check",
    "compare",
    "duty_cycle_ah",
    "ensemble",
    "fleet",
    "load_budget",
    "loads_from",
    "make_worksheet",
    "outlook",
    "read_claims",
    "read_site",
    "read_weather",
    "reliability_view",
    "review",
    "simulate",
    "size",
    "worksheet_from",
    "write_report",
]

try:
    __version__ = version("powerbudget")
except PackageNotFoundError:  # a checkout that was never installed
    __version__ = "0+unknown"


def __getattr__(name: str) -> Any:
    """Load a public name from its home on first use."""
    if name not in _HOMES:
        raise AttributeError(f"module 'powerbudget' has no attribute {name!r}")
    value = getattr(import_module(f"powerbudget.{_HOMES[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """List public names."""
    return sorted(__all__)
