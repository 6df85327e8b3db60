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
    from powerbudget.review.claimsfile import ClaimsFile, read_claims
    from powerbudget.review.reviewer import review
    from powerbudget.review.verdict import Judged, Review
    from powerbudget.site.reader import Design, read_site
    from powerbudget.sizing.autonomy import Autonomy, autonomy
    from powerbudget.sizing.fleet import FleetRow, fleet
    from powerbudget.sizing.outlook import Outlook, outlook
    from powerbudget.sizing.search import Candidate, Sizing, size
    from powerbudget.weather import WeatherRecord, read_weather

_HOMES = {
    "Autonomy": "sizing.autonomy",
    "Budget": "loads.budget",
    "Candidate": "sizing.search",
    "Check": "checks.result",
    "CheckReport": "checks.registry",
    "ClaimsFile": "review.claimsfile",
    "DataError": "errors",
    "Design": "site.reader",
    "DidNotConverge": "errors",
    "Finding": "errors",
    "FleetRow": "sizing.fleet",
    "InputError": "errors",
    "Judged": "review.verdict",
    "Line": "loads.budget",
    "ModelRangeError": "errors",
    "Outage": "balance.events",
    "Outlook": "sizing.outlook",
    "PowerBudgetError": "errors",
    "PowerBudgetWarning": "errors",
    "Review": "review.verdict",
    "Simulation": "balance.simulation",
    "Sizing": "sizing.search",
    "WeatherRecord": "weather",
    "autonomy": "sizing.autonomy",
    "check": "checks.registry",
    "fleet": "sizing.fleet",
    "load_budget": "loads.budget",
    "outlook": "sizing.outlook",
    "read_claims": "review.claimsfile",
    "read_site": "site.reader",
    "read_weather": "weather",
    "review": "review.reviewer",
    "simulate": "balance.simulation",
    "size": "sizing.search",
}

__all__ = [
    "Autonomy",
    "Budget",
    "Candidate",
    "Check",
    "CheckReport",
    "ClaimsFile",
    "DataError",
    "Design",
    "DidNotConverge",
    "Finding",
    "FleetRow",
    "InputError",
    "Judged",
    "Line",
    "ModelRangeError",
    "Outage",
    "Outlook",
    "PowerBudgetError",
    "PowerBudgetWarning",
    "Review",
    "Simulation",
    "Sizing",
    "WeatherRecord",
    "__version__",
    "autonomy",
    "check",
    "fleet",
    "load_budget",
    "outlook",
    "read_claims",
    "read_site",
    "read_weather",
    "review",
    "simulate",
    "size",
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
