from .balance.events import Outage
from .balance.simulation import Simulation, simulate
from .checks.registry import CheckReport, check
from .checks.result import Check
from .compare.alternative import Option
from .compare.comparison import Comparison, compare
from .errors import (
    DataError,
    DidNotConverge,
    Finding,
    InputError,
    ModelRangeError,
    PowerBudgetError,
    PowerBudgetWarning,
)
from .fleet.fleet import fleet
from .fleet.row import FleetRow
from .loads.budget import Budget, Line, load_budget
from .report.extras import Extras
from .report.write import write_report
from .review.claims_file import ClaimsFile, read_claims
from .review.result import Judged, Review
from .review.reviewer import review
from .site.ensemble import Spread
from .site.reader import Design, read_site
from .sizing.aging import Outlook, outlook
from .sizing.autonomy import Autonomy, autonomy
from .sizing.autonomy_view import AutonomyView, autonomy_view
from .sizing.candidates import Candidate
from .sizing.search import Sizing, size
from .sizing.uncertainty.monte_carlo import Ensemble, ensemble
from .sizing.uncertainty.reliability import Reliability, reliability_view
from .sizing.worksheet.against_record import Disagreement
from .sizing.worksheet.duty_cycle import duty_cycle_ah
from .sizing.worksheet.figures import (
    ArrayFigures,
    BatteryFigures,
    LoadFigures,
    SheetLoad,
    loads_from,
)
from .sizing.worksheet.formulas import WorksheetLine
from .sizing.worksheet.lines import worksheet_from
from .sizing.worksheet.site_figures import make_worksheet
from .version import __version__
from .weather import WeatherRecord, read_weather

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
