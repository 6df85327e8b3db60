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
    from powerbudget.errors import (
        DataError,
        DidNotConverge,
        Finding,
        InputError,
        ModelRangeError,
        PowerBudgetError,
        PowerBudgetWarning,
    )
    from powerbudget.loads.budget import Budget, Line, load_budget
    from powerbudget.site.ensemblemodel import Spread
    from powerbudget.site.reader import Design, read_site
    from powerbudget.sizing.autonomy import Autonomy, autonomy
    from powerbudget.sizing.autonomy_view import AutonomyView, autonomy_view
    from powerbudget.sizing.candidate import Candidate
    from powerbudget.sizing.disagreement import Disagreement
    from powerbudget.sizing.duty_cycle import duty_cycle_ah
    from powerbudget.sizing.ensemble import Ensemble, ensemble
    from powerbudget.sizing.figures import (
        ArrayFigures,
        BatteryFigures,
        LoadFigures,
        SheetLoad,
        loads_from,
    )
    from powerbudget.sizing.outlook import Outlook, outlook
    from powerbudget.sizing.reliability import Reliability, reliability_view
    from powerbudget.sizing.search import Sizing, size
    from powerbudget.sizing.sheetlines import worksheet_from
    from powerbudget.sizing.sitesheet import make_worksheet
    from powerbudget.sizing.worksheet import WorksheetLine
    from powerbudget.weather import WeatherRecord, read_weather

_HOMES = {
    "ArrayFigures": "sizing.figures",
    "Autonomy": "sizing.autonomy",
    "AutonomyView": "sizing.autonomy_view",
    "BatteryFigures": "sizing.figures",
    "Budget": "loads.budget",
    "Candidate": "sizing.candidate",
    "DataError": "errors",
    "Design": "site.reader",
    "DidNotConverge": "errors",
    "Disagreement": "sizing.disagreement",
    "Ensemble": "sizing.ensemble",
    "Finding": "errors",
    "InputError": "errors",
    "Line": "loads.budget",
    "LoadFigures": "sizing.figures",
    "ModelRangeError": "errors",
    "Outage": "balance.events",
    "Outlook": "sizing.outlook",
    "PowerBudgetError": "errors",
    "PowerBudgetWarning": "errors",
    "Reliability": "sizing.reliability",
    "SheetLoad": "sizing.figures",
    "Simulation": "balance.simulation",
    "Sizing": "sizing.search",
    "Spread": "site.ensemblemodel",
    "WeatherRecord": "weather",
    "WorksheetLine": "sizing.worksheet",
    "autonomy": "sizing.autonomy",
    "autonomy_view": "sizing.autonomy_view",
    "duty_cycle_ah": "sizing.duty_cycle",
    "ensemble": "sizing.ensemble",
    "load_budget": "loads.budget",
    "loads_from": "sizing.figures",
    "make_worksheet": "sizing.sitesheet",
    "outlook": "sizing.outlook",
    "read_site": "site.reader",
    "read_weather": "weather",
    "reliability_view": "sizing.reliability",
    "simulate": "balance.simulation",
    "size": "sizing.search",
    "worksheet_from": "sizing.sheetlines",
}

__all__ = [
    "ArrayFigures",
    "Autonomy",
    "AutonomyView",
    "BatteryFigures",
    "Budget",
    "Candidate",
    "DataError",
    "Design",
    "DidNotConverge",
    "Disagreement",
    "Ensemble",
    "Finding",
    "InputError",
    "Line",
    "LoadFigures",
    "ModelRangeError",
    "Outage",
    "Outlook",
    "PowerBudgetError",
    "PowerBudgetWarning",
    "Reliability",
    "SheetLoad",
    "Simulation",
    "Sizing",
    "Spread",
    "WeatherRecord",
    "WorksheetLine",
    "__version__",
    "autonomy",
    "autonomy_view",
    "duty_cycle_ah",
    "ensemble",
    "load_budget",
    "loads_from",
    "make_worksheet",
    "outlook",
    "read_site",
    "read_weather",
    "reliability_view",
    "simulate",
    "size",
    "worksheet_from",
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
