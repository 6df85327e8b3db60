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
    from powerbudget.compare.options import Option
    from powerbudget.compare.rank import Comparison, compare
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
    from powerbudget.site.reader import Design, read_site
    from powerbudget.sizing.autonomy import Autonomy, autonomy
    from powerbudget.sizing.outlook import Outlook, outlook
    from powerbudget.sizing.search import Candidate, Sizing, size
    from powerbudget.weather import WeatherRecord, read_weather

_HOMES = {
    "Autonomy": "sizing.autonomy",
    "Budget": "loads.budget",
    "Candidate": "sizing.search",
    "Comparison": "compare.rank",
    "DataError": "errors",
    "Design": "site.reader",
    "DidNotConverge": "errors",
    "Finding": "errors",
    "InputError": "errors",
    "Line": "loads.budget",
    "ModelRangeError": "errors",
    "Option": "compare.options",
    "Outage": "balance.events",
    "Outlook": "sizing.outlook",
    "PowerBudgetError": "errors",
    "PowerBudgetWarning": "errors",
    "Simulation": "balance.simulation",
    "Sizing": "sizing.search",
    "WeatherRecord": "weather",
    "autonomy": "sizing.autonomy",
    "compare": "compare.rank",
    "load_budget": "loads.budget",
    "outlook": "sizing.outlook",
    "read_site": "site.reader",
    "read_weather": "weather",
    "simulate": "balance.simulation",
    "size": "sizing.search",
}

__all__ = [
    "Autonomy",
    "Budget",
    "Candidate",
    "Comparison",
    "DataError",
    "Design",
    "DidNotConverge",
    "Finding",
    "InputError",
    "Line",
    "ModelRangeError",
    "Option",
    "Outage",
    "Outlook",
    "PowerBudgetError",
    "PowerBudgetWarning",
    "Simulation",
    "Sizing",
    "WeatherRecord",
    "__version__",
    "autonomy",
    "compare",
    "load_budget",
    "outlook",
    "read_site",
    "read_weather",
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
