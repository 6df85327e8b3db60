"""The JSON answer of every verb, and its schema: one table of keys for both.

A key has a type and says where in the result it is found: the path of an attribute, or
a function.  Values are result classes as they are; the schema is read from their fields.
"""

from __future__ import annotations

import dataclasses
import types
from operator import attrgetter
from typing import (
    TYPE_CHECKING,
    Any,
    Literal,
    Union,
    get_args,
    get_origin,
    get_type_hints,
)

import numpy as np

from powerbudget.balance.arrayload import ArrayToLoad, MonthRow
from powerbudget.balance.events import Event, Frost
from powerbudget.balance.generation import GeneratorYear
from powerbudget.battery.ageing import Life
from powerbudget.battery.ventilation import Ventilation
from powerbudget.checks.cautions import Caution, cautions
from powerbudget.checks.result import NotChecked
from powerbudget.checks.result import Verdict as Word
from powerbudget.checks.voltage_profile import Stairs
from powerbudget.compare.alternative import MonthShare
from powerbudget.compare.break_even import Turn
from powerbudget.compare.emissions import Emission
from powerbudget.errors import Fault, Finding
from powerbudget.limits import Sense
from powerbudget.lists.difference import Difference as ListDifference
from powerbudget.loads.difference import LineChange
from powerbudget.loads.lines import Line, tier_w
from powerbudget.loads.loop_checks import LoopCheck
from powerbudget.loads.rack_parts import RackResult
from powerbudget.report.doctor import Examined
from powerbudget.review.result import ClaimCase, Solved
from powerbudget.review.result import Sense as ClaimSense
from powerbudget.review.result import Word as ClaimWord
from powerbudget.site.keys import Key
from powerbudget.site.prices import PricedAssumption
from powerbudget.sizing.aging import Case
from powerbudget.sizing.autonomy_view import AutonomyView
from powerbudget.sizing.criteria import Verdict
from powerbudget.sizing.deficit_periods import DarkRun
from powerbudget.sizing.installed import CostLine
from powerbudget.sizing.limiting import Shortfall
from powerbudget.sizing.picks import OneMore
from powerbudget.sizing.recovery import Recovery
from powerbudget.sizing.search import ControllerNeed
from powerbudget.sizing.tilt import TiltSearch
from powerbudget.sizing.uncertainty.monte_carlo import Ensemble
from powerbudget.sizing.uncertainty.reliability import Reliability
from powerbudget.sizing.uncertainty.sensitivity import Influential
from powerbudget.sizing.worksheet.assumptions import Reason
from powerbudget.sizing.worksheet.formulas import WorksheetLine
from powerbudget.weather.extremes import SpellFit
from powerbudget.weather.record import DesignTemps
from powerbudget.weather.statistics import Persistence
from powerbudget.weather.summary import MonthMean, Spell

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

Keys = dict[str, tuple[Any, "str | Callable[[Any], Any]"]]


@dataclasses.dataclass(frozen=True, eq=False)
class AnswerPart:
    """An object of an answer that is no result class by itself.

    Parameters
    ----------
    keys
        Type and place of each.
    many, maybe
        Whether it stands in a list, and whether it may be missing.
    """

    keys: Keys
    many: bool = False
    maybe: bool = False


def answer(keys: Keys, result: Any) -> dict[str, Any]:
    """Return the answer of a result.

    Parameters
    ----------
    keys
        Of the verb.
    result
        What the paths start from.
    """
    return {key: _value(kind, place, result) for key, (kind, place) in keys.items()}


def _value(kind: Any, place: Any, result: Any) -> Any:
    found = attrgetter(place)(result) if isinstance(place, str) else place(result)
    if not isinstance(kind, AnswerPart) or found is None:
        return found
    if kind.many:
        return [answer(kind.keys, item) for item in found]
    return answer(kind.keys, found)


def _same(kind: Any, *names: str) -> Keys:
    """Return keys that are named as the attribute that they are found by."""
    return {name: (kind, name) for name in names}


OUTAGE = {
    **_same(str, "start"), **_same(float, "hours"), **_same(str, "cause", "kind"),
    **_same(float, "charge_left_frac"), **_same(bool, "recovered", "across_end"),
    **_same(str, "generator"),
}  # fmt: skip


def _degc(which: str) -> Callable[[Any], float]:
    return lambda p: float(getattr(p.problem.conditions.battery_degc, which)())


BATTERY: Keys = {
    "chemistry": (str, "run.bank.chemistry.name"),
    "cold_curve": (str, "run.bank.cold_curve"),
    "health_frac": (float, "run.bank.health_frac"),
    "lowest_degc": (float, _degc("min")), "mean_degc": (float, _degc("mean")),
    "highest_degc": (float, _degc("max")),
    "frost": (Frost, "run.frost"),
    "blocked_sun_h": (float, "run.blocked_sun_h"),
    "blocked_sun_wh": (float, "run.blocked_sun_wh"),
    "highest_charge_v": (float, "run.highest_charge_v"),
    "highest_charge_at": (str, "run.highest_charge_at"),
    "life": (Life, "outlook.life"), "ages": (tuple[Case, ...], "outlook.ages"),
    "cold_curves": (tuple[Case, ...], "outlook.curves"),
    "cold_curves_differ": (bool, "outlook.curves_differ"),
    "recovery": (Recovery, "outlook.recovery"),
    "ventilation": (Ventilation, "outlook.ventilation"),
}  # fmt: skip


def _ledger(package: Any) -> dict[str, float]:
    ledger = package.run.ledger
    came = {"array_wh": ledger.array_wh, "generator_wh": ledger.generator_wh}
    return {**came, **ledger.terms_wh}


RUN: Keys = {
    "availability_frac": (float, "run.availability_frac"),
    "energy_not_served_wh": (float, "run.energy_not_served_wh"),
    "outages": (AnswerPart(OUTAGE, many=True), "run.outages"),
    "events": (tuple[Event, ...], "run.events"),
    "hours_off_by_tier": (tuple[float, ...], "run.hours_off_by_tier"),
    "availability_to_loss_frac": (float, "run.availability_to_loss_frac"),
    "lowest_soc_frac": (float, "run.lowest_soc_frac"),
    "lowest_soc_at": (str, "run.lowest_soc_at"),
    "start_soc_frac": (float, "run.start_soc_frac"),
    "autonomy_design_days": (float, "days.design_days"),
    "autonomy_design_degc": (float, "days.design_degc"),
    "autonomy_design_ends": (str, "days.design_ends"),
    "autonomy_record_days": (float, "days.record_days"),
    "autonomy_record_start": (str, "days.record_start"),
    "autonomy_record_soc_frac": (float, "days.record_soc_frac"),
    "battery": (AnswerPart(BATTERY), lambda p: p),
    "generators": (tuple[GeneratorYear, ...], "run.generation"),
    "ledger": (dict[str, float], _ledger),
    "ledger_error_frac": (float, "run.ledger.error_frac"),
    "monthly": (tuple[MonthRow, ...], "run.monthly"),
    "array_to_load": (ArrayToLoad, "run.array_to_load"),
    "criteria": (tuple[Verdict, ...], "verdicts"),
    "weather": (str, "record.source"), "typical_year": (bool, "record.typical_year"),
    "findings": (tuple[Finding, ...], "run_findings"),
}  # fmt: skip
"""From a `powerbudget.report.document.package.Package`."""

SIZE_ROW: Keys = {
    **_same(int, "modules", "array_strings"), **_same(float, "array_w"),
    **_same(int, "battery_units", "battery_strings"), **_same(float, "battery_ah"),
    **_same(float | None, "cost"), **_same(float, "availability_frac", "lowest_soc_frac"),
    **_same(str, "lowest_soc_at"), "first_outage_at": (str, "lost_at"),
    **_same(float, "tilt_deg"), **_same(int, "series"), **_same(float | None, "mass_kg"),
    **_same(tuple[str, ...], "failed"), **_same(tuple[Verdict, ...], "verdicts"),
}  # fmt: skip
MAYBE = AnswerPart(SIZE_ROW, maybe=True)


def _each(path: str) -> Callable[[Any], dict[str, Any]]:
    """Return what turns sizes by name into their rows."""

    def rows(package: Any) -> dict[str, Any]:
        found = attrgetter(path)(package)
        return {name: c and answer(SIZE_ROW, c) for name, c in found.items()}

    return rows


SPELL: Keys = {
    "days": (float, "spell_days"), "start": (str, "spell_start"), "end": (str, "spell_end"),
}  # fmt: skip


def _taken(begun: Any) -> list[dict[str, Any]]:
    return [
        {**answer(TRIED, each), "taken": each is begun.pick} for each in begun.tried
    ]


def _of_pick(name: str) -> Callable[[Any], Any]:
    return lambda each: each.pick and getattr(each.pick, name)


TRIED: Keys = {
    "module": (str, "module"), "battery_unit": (str, "battery"),
    "chemistry": (str, "chemistry"), "taken": (bool, lambda _each: False),
    "modules": (int | None, _of_pick("modules")),
    "array_w": (float | None, _of_pick("array_w")),
    "battery_units": (int | None, _of_pick("battery_units")),
    "battery_ah": (float | None, _of_pick("battery_ah")),
    "mass_kg": (float | None, _of_pick("mass_kg")), "why_not": (str, "why"),
}  # fmt: skip
FROM_NOTHING: Keys = {
    "tried": (list[AnswerPart(TRIED)], _taken),  # type: ignore[misc]
    "left_out": (dict[str, str], lambda begun: dict(begun.left_out)),
    "coldest_day_degc": (float, "coldest_degc"),
}  # fmt: skip
SIZE: Keys = {
    "battery_age": (str, "search.battery_age"),
    "battery_health_frac": (float, "search.health_frac"),
    "pick": (MAYBE, "search.pick"),
    "picks": (dict[str, MAYBE], _each("search.picks")),  # type: ignore[valid-type]
    "frontier": (AnswerPart(SIZE_ROW, many=True), "search.frontier"),
    "binding": (str, "search.binding"),
    "one_fewer": (dict[str, MAYBE], _each("search.smaller")),  # type: ignore[valid-type]
    "one_more": (tuple[OneMore, ...], "search.one_more"),
    "unmet": (tuple[Shortfall, ...], "search.unmet"),
    "nearest_miss": (MAYBE, "search.nearest_miss"),
    "ranked_by": (str, "search.rule"), "currency": (str, "search.currency"),
    "charge_controller": (ControllerNeed, "search.controller"),
    "installed_cost": (tuple[CostLine, ...], "search.installed"),
    "worksheet": (tuple[WorksheetLine, ...], "search.worksheet"),
    "worksheet_design": (MAYBE, "search.disagreement.design"),
    "worksheet_spell": (AnswerPart(SPELL), "search.disagreement"),
    "disagreement": (tuple[Reason, ...], "search.disagreement.reasons"),
    "disagreement_words": (tuple[str, ...], "search.disagreement.words"),
    "findings": (tuple[Finding, ...], "search.findings"),
    "tilt": (TiltSearch | None, "turned"),
    "tilt_deg": (float, "search.problem.design.tables.array.tilt_deg"),
    "azimuth_deg": (float, "search.problem.design.tables.array.azimuth_deg"),
    "weather": (str, "search.problem.record.source"),
    "typical_year": (bool, "search.problem.record.typical_year"),
    "site": (str, "tables.site.name"),
    "from_nothing": (AnswerPart(FROM_NOTHING, maybe=True), "begun"),
}  # fmt: skip
"""From a package."""

CHECK_ROW: Keys = {
    **_same(str, "name", "subject"), **_same(float, "value", "limit"), **_same(str, "unit"),
    **_same(Word, "verdict"), **_same(float, "margin"),
    **_same(str, "rule", "source", "remedy", "detail"),
    **_same(tuple[dict[str, Any], ...], "cases"), **_same(Sense, "side"),
    **_same(str, "margin_unit"), **_same(float | None, "margin_frac"),
}  # fmt: skip
CHECK: Keys = {
    "verdict": (Word, "verdict"), "counts": (dict[str, int], "counts"),
    "checks": (AnswerPart(CHECK_ROW, many=True), "checks"),
    "not_checked": (tuple[NotChecked, ...], "not_checked"),
    "voltage_budget": (Stairs, "stairs"),
    "lowest_bus_v": (float, "facts.low_v"),
    "highest_bus_v": (float, lambda report: report.facts.highest_v[0]),
    "coldest_degc": (float, "facts.air.low_degc"),
    "hottest_degc": (float, "facts.air.high_degc"),
    "cautions": (tuple[Caution, ...], "cautions"),
}  # fmt: skip
"""From a check report."""

CLAIM: Keys = {
    **_same(int, "number"), **_same(str, "kind", "claim"),
    **_same(float | None, "claimed", "found"), **_same(str, "unit"),
    **_same(ClaimWord, "verdict"), **_same(float | None, "margin_frac", "margin"),
    **_same(str, "margin_unit"), **_same(float | None, "found_low", "found_high"),
    **_same(str, "condition"), **_same(tuple[str, ...], "missing"),
    **_same(tuple[Fault, ...], "problems"), **_same(ClaimSense, "sense"),
    **_same(tuple[ClaimCase, ...], "cases"), **_same(tuple[Solved, ...], "solved"),
    **_same(tuple[str, ...], "remarks", "holds_already", "sources", "cautions"),
}  # fmt: skip
REVIEW: Keys = {
    **_same(str, "site", "vendor", "document"),
    "claims": (AnswerPart(CLAIM, many=True), "claims"),
    "supported": (int, lambda r: r.count("supported")),
    "not_supported": (int, lambda r: r.count("not supported")),
    "cannot_tell": (int, lambda r: r.count("undetermined")),
    "findings": (tuple[Finding, ...], "findings"),
    "cautions": (tuple[Caution, ...], lambda _review: cautions()),
}  # fmt: skip
"""From a review."""

OPTION: Keys = {
    **_same(str, "name", "title"), **_same(bool, "met"), **_same(str, "reason", "parts"),
    **_same(float, "availability_frac"), **_same(str, "battery_lost_at"),
    "currency": (str, lambda _option: ""),
    **_same(float | None, "capital", "life_cycle_cost", "cost_per_kwh"), **_same(str, "fuel"),
    **_same(float | None, "fuel_per_year"), **_same(str, "fuel_unit"),
    **_same(float | None, "visits_per_year", "deliveries_per_year", "co2e_kg_per_year"),
    **_same(str, "binding"),
    "cost_groups": (dict[str, float] | None, lambda o: o.cost.groups if o.cost else None),
    "replaced": (tuple[Any, ...], lambda o: o.cost.replaced if o.cost else ()),
    "emissions": (tuple[Emission, ...], "emissions"),
    "months": (tuple[MonthShare, ...], "months"),
}  # fmt: skip
COMPARE: Keys = {
    "options": (AnswerPart(OPTION, many=True), "options"),
    "best": (str | None, lambda c: c.best.name if c.best else None),
    "why": (str, "why"), "turns": (tuple[Turn, ...], "turns"), "resized": (bool, "resized"),
    "currency": (str, "currency"), "horizon_years": (float, "terms.horizon_y"),
    "discount_rate_frac": (float, "terms.rate_frac"),
    "convention": (str, "terms.convention"), "gwp": (str, "gwp"),
    "load_w": (float, "load_w"), "years": (float, "years"),
    "assumptions": (tuple[PricedAssumption, ...], "assumptions"),
    "findings": (tuple[Finding, ...], "findings"),
}  # fmt: skip
"""From a comparison."""

LOADS: Keys = {
    **_same(tuple[Line, ...], "lines"), "typical_w": (float, "average_w"),
    **_same(float, "maximum_w", "peak_w", "wh_per_day", "ah_per_day", "hidden_w",
            "contingency_frac"),
    "heaviest_month": (int, "highest_load_month"),
    **_same(float, "base_a", "nominal_v"), **_same(tuple[Finding, ...], "findings"),
    **_same(float, "lowest_bus_v", "maximum_a", "peak_a"), **_same(str, "inrush"),
    **_same(dict[str, float], "status_frac", "class_wh"), **_same(float, "doubtful_frac"),
    **_same(RackResult | None, "rack"), **_same(tuple[LoopCheck, ...], "loops"),
    "priority_w": (dict[str, float], lambda budget: tier_w(budget.lines)),
}  # fmt: skip
"""From a power budget."""


def _of_options(comparison: Any) -> list[dict[str, Any]]:
    return [
        {**answer(OPTION, option), "currency": comparison.currency}
        for option in comparison.options
    ]


COMPARE["options"] = (list[AnswerPart(OPTION)], _of_options)  # type: ignore[misc]

WEATHER: Keys = {
    "source": (str, "record.source"), "label": (str, "record.label"),
    "step_h": (float, "record.step_h"), "years": (float, "record.years"),
    "typical_year": (bool, "record.typical_year"),
    "made_from_monthly_figures": (bool, "record.synthetic"),
    "verdict": (str, "record.verdict"), "monthly": (list[MonthMean], "months"),
    "worst_spells": (tuple[Spell, ...], "spells"),
    "spell_returns": (tuple[SpellFit, ...], "fits"),
    "persistence": (tuple[Persistence, ...], "persistence"),
    "dark_runs": (tuple[DarkRun, ...], "dark_runs"),
    "design_temperatures": (DesignTemps | None, "record.design"),
    "record_lowest_degc": (float, lambda sky: float(sky.record.temp_air_degc.min())),
    "findings": (tuple[Finding, ...], "findings"),
}  # fmt: skip
"""From a sky."""

PAIR = list[float]
DIFF: Keys = {
    **_same(list[LineChange], "lines"),
    **_same(float, "delta_wh_per_day", "delta_typical_w", "delta_maximum_w", "delta_peak_a",
            "delta_autonomy_days"),
    **_same(float | None, "delta_autonomy_record_days"),
    **_same(PAIR, "wh_per_day", "maximum_w", "peak_a", "autonomy_design_days",
            "autonomy_record_days"),
}  # fmt: skip

ACCOUNT = {
    **_same(str, "sheet", "use"), **_same(int, "total"),
    **_same(dict[str, int], "accounts", "by_class"), **_same(dict[str, str], "where"),
}  # fmt: skip
ASKED_ROW = {**_same(str, "sheet"), **_same(int, "row"), **_same(str, "name")}
ASKED = {
    **_same(str, "cause", "text"), **_same(int, "count"), **_same(str, "action"),
    **_same(list[AnswerPart(ASKED_ROW)], "rows"),  # type: ignore[misc]
}  # fmt: skip
LISTED_LOAD = {
    **_same(str, "name", "sheet"), **_same(int, "row"), **_same(float, "quantity"),
    **_same(float | None, "running_w", "maximum_w", "wh_per_day"), **_same(str, "no_figure"),
}  # fmt: skip
# What `import` prints; its answer is made where the lists are written.
IMPORT: Keys = {
    "rows": (AnswerPart(ACCOUNT, many=True), "rows"),
    "questions": (AnswerPart(ASKED, many=True), "questions"),
    **_same(dict[str, int], "points", "spare"), **_same(int, "deleted"),
    **_same(list[str], "tags"),
    **_same(float, "signal_list_typical_w", "signal_list_maximum_w"),
    "loads": (AnswerPart(LISTED_LOAD, many=True), "loads"),
    **_same(float, "loads_running_w", "loads_maximum_w", "loads_wh_per_day"),
    "columns": (list[dict[str, str]], "columns"),
    **_same(ListDifference | None, "difference"), **_same(float | None, "bus_v"),
    **_same(tuple[str, ...], "notes"),
}  # fmt: skip

ANSWERS: dict[str, Keys] = {
    "loads": LOADS, "weather": WEATHER, "run": RUN, "size": SIZE, "check": CHECK,
    "review": REVIEW, "compare": COMPARE, "diff": DIFF,
    "doctor": {"checks": (tuple[Examined, ...], "checks")},
    "import": IMPORT, "parts": {"parts": (list[dict[str, Any]], "parts")},
    "keys": {"keys": (list[Key], "keys")},
}  # fmt: skip
"""Keys of each verb."""
FAULTS: Keys = {
    **_same(str, "result"), **_same(int, "exit_code"),
    **_same(tuple[Fault, ...], "faults"),
}  # fmt: skip
"""Keys of what stands in place of an answer where the input cannot be used."""
FURTHER: dict[str, dict[str, Any]] = {
    "loads": {"battery_heater_w": float},
    "run": {"autonomy_view": AutonomyView},
    "size": {
        "ensemble": Ensemble,
        "reliability": Reliability,
        "sensitivity": tuple[Influential, ...],
    },
    "weather": {"against": dict[str, Any]},
}
"""Keys that stand in an answer only where they are asked for."""


def schema(verb: str, keys: Keys | None = None) -> dict[str, Any]:
    """Return the JSON Schema of what a verb prints with ``--json``.

    Parameters
    ----------
    verb
        A key of `ANSWERS`, or a verb whose keys are given [text].
    keys
        Of the answer of a verb that stands above this package.
    """
    found = _object({key: kind for key, (kind, _) in (keys or ANSWERS[verb]).items()})
    further = {key: _schema(kind) for key, kind in FURTHER.get(verb, {}).items()}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"powerbudget {verb} --json",
        **found, "properties": found["properties"] | further,
    }  # fmt: skip


def _object(kinds: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "type": "object", "additionalProperties": False, "required": list(kinds),
        "properties": {key: _schema(kind) for key, kind in kinds.items()},
    }  # fmt: skip


PLAIN: dict[Any, dict[str, Any]] = {
    str: {"type": "string"}, bool: {"type": "boolean"}, int: {"type": "integer"},
    # A figure that is infinite or none at all is null.
    float: {"type": ["number", "null"]}, type(None): {"type": "null"}, Any: {},
}  # fmt: skip


def _schema(kind: Any) -> dict[str, Any]:
    """Return the schema of a type as `powerbudget.cli.common.plain` writes it."""
    if isinstance(kind, AnswerPart):
        found = _object({key: k for key, (k, _) in kind.keys.items()})
        found = {"type": "array", "items": found} if kind.many else found
        return {"anyOf": [found, {"type": "null"}]} if kind.maybe else found
    if kind in PLAIN:
        return PLAIN[kind]
    if dataclasses.is_dataclass(kind):
        hints = get_type_hints(kind)
        return _object({f.name: hints[f.name] for f in dataclasses.fields(kind)})
    if hasattr(kind, "model_fields"):
        return {"type": "object", "required": list(kind.model_fields)}
    return _generic(get_origin(kind), get_args(kind))


def _generic(origin: Any, inside: Iterable[Any]) -> dict[str, Any]:
    inside = tuple(inside)
    if origin is Literal:
        return {"enum": list(inside)}
    if origin in {types.UnionType, Union}:
        return {"anyOf": [_schema(kind) for kind in inside]}
    if origin is dict:
        return {"type": "object", "additionalProperties": _schema(inside[1])}
    if origin is np.ndarray:
        return {"type": "array"}
    if origin is tuple and inside[-1:] != (Ellipsis,):
        each = [_schema(kind) for kind in inside]
        return {"type": "array", "prefixItems": each, "minItems": len(each)}
    return {"type": "array", "items": _schema(inside[0])}
