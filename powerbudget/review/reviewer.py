"""A vendor's claims against a site: each judged, none stopped by another."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from powerbudget.errors import (
    DataError,
    Fault,
    Finding,
    InputError,
    ModelRangeError,
)
from powerbudget.review import claim_tables as c
from powerbudget.review.array_claims import (
    judge_array,
    judge_availability,
    judge_recovery,
)
from powerbudget.review.battery_claims import judge_autonomy, judge_battery
from powerbudget.review.claims_file import ClaimsFile, Entry, read_claims
from powerbudget.review.formula_claims import judge_capacity, judge_formula
from powerbudget.review.generator_claims import judge_fuel, judge_generator
from powerbudget.review.life_claims import judge_life, judge_self_discharge
from powerbudget.review.load_claims import judge_draw, judge_energy
from powerbudget.review.module_claims import judge_panel
from powerbudget.review.result import Judged, Review
from powerbudget.review.sun_claims import array_w, judge_sun, judge_yield
from powerbudget.review.temperature_claims import (
    judge_charge_voltage,
    judge_temperature,
)
from powerbudget.review.tracking_claims import judge_tracking
from powerbudget.review.variants import Desk
from powerbudget.review.without_site import judge_bare
from powerbudget.review.wording import wording_faults
from powerbudget.site.reader import Design

WORDS = {
    "draw": "draw", "energy": "energy a day", "autonomy": "days of autonomy",
    "battery": "battery is enough", "array": "array is enough",
    "availability": "availability", "recovery": "days to recover",
    "yield": "array energy a day", "sun": "peak sun hours", "panel": "panel power",
    "fuel": "fuel use", "generator": "generator carries the site",
    "temperature": "works at", "charge-voltage": "charging set point",
    "capacity": "battery holds", "formula": "sizing sum",
    "tracking": "gain by tracking", "life": "battery lasts",
    "self-discharge": "self-discharge a month",
}  # fmt: skip

OF_PANELS = (c.ArrayClaim, c.YieldClaim, c.SunClaim, c.TrackingClaim)


def review(design: Design | None, claims: ClaimsFile | str | Path) -> Review:
    """Judge a vendor's claims against a site.

    Parameters
    ----------
    design
        A checked site; None judges by plain arithmetic as far as that goes.
    claims
        Claims, or the path of a claims file.

    Returns
    -------
    Review
        Every claim with what was found, verdict, margin and condition.

    Raises
    ------
    InputError
        When the claims file cannot be read, or none of its claims can be judged.
    """
    file = claims if isinstance(claims, ClaimsFile) else read_claims(claims)
    desk = Desk(design) if design is not None else None
    judged = tuple(_judge(entry, desk) for entry in file.entries)
    if not any(item.usable for item in judged):
        where = str(file.path or "claims")
        faults = [replace(f, file=where) for item in judged for f in item.problems]
        raise InputError(faults)
    return Review(
        design.tables.site.name if design else "",
        file.vendor,
        file.document,
        judged,
        (*file.findings, *_findings(desk)),
    )


def _findings(desk: Desk | None) -> tuple[Finding, ...]:
    if desk is None:
        text = (
            "no site file: only arithmetic, physics and what the claims state are used"
        )
        return (Finding("note", text),)
    share = desk.budget.doubtful_frac
    if share < 0.5:
        return ()
    return (
        Finding(
            "warning",
            f"{100 * share:.0f} % of the site's energy rests on remembered or invented "
            "figures: ask for the maker's and for a measured day",
        ),
    )


def _judge(entry: Entry, desk: Desk | None) -> Judged:
    """Return one claim judged; whatever stops it is said as its own problem."""
    blank = Judged(entry.number, entry.kind, _title(entry))
    if entry.claim is None:
        return _problem(blank, entry.faults)
    if faults := wording_faults(entry.claim):
        return _problem(blank, faults)
    try:
        done = _by_kind(entry.claim, blank, desk)
    except InputError as exc:
        return _problem(blank, exc.faults)
    except (DataError, ModelRangeError) as exc:
        return _problem(blank, (Fault("claim", str(exc)),))
    return _problem(done, done.problems) if done.problems else done


def _problem(blank: Judged, faults: tuple[Fault, ...]) -> Judged:
    where = f"claim[{blank.number}]"
    named = tuple(
        f if f.where.startswith("claim[") else replace(f, where=f"{where}.{f.where}")
        for f in faults
    )
    text = "the claim as written cannot be used: " + "; ".join(f.problem for f in named)
    return replace(blank, verdict="cannot tell", problems=named, condition=text)


def _by_kind(claim: Any, blank: Judged, desk: Desk | None) -> Judged:
    free: Any = {
        c.ChargeVoltageClaim: judge_charge_voltage,
        c.CapacityClaim: judge_capacity,
        c.FormulaClaim: judge_formula,
        c.PanelClaim: judge_panel,
        c.SelfDischargeClaim: judge_self_discharge,
        c.FuelClaim: judge_fuel,
        c.GeneratorClaim: judge_generator,
    }
    if type(claim) in free:
        done: Judged = free[type(claim)](claim, blank, desk)
        return done
    if desk is None:
        return judge_bare(claim, blank)
    if isinstance(claim, OF_PANELS) and not array_w(desk):
        problem = "is about panels, and the site has none"
        fault = Fault("kind", problem, blank.kind, "a site file with an [array]")
        return replace(blank, problems=(fault,))
    placed: Any = {
        c.DrawClaim: judge_draw, c.EnergyClaim: judge_energy,
        c.AutonomyClaim: judge_autonomy, c.BatteryClaim: judge_battery,
        c.ArrayClaim: judge_array, c.AvailabilityClaim: judge_availability,
        c.RecoveryClaim: judge_recovery, c.YieldClaim: judge_yield,
        c.SunClaim: judge_sun,
        c.TemperatureClaim: judge_temperature, c.TrackingClaim: judge_tracking,
        c.LifeClaim: judge_life,
    }  # fmt: skip
    result: Judged = placed[type(claim)](claim, blank, desk)
    return result


def _title(entry: Entry) -> str:
    """Return a claim in words: the vendor's, or its kind and figure."""
    if entry.says and entry.claim is not None and entry.claim.says:
        return entry.says
    claim = entry.claim
    if claim is None:
        words = WORDS.get(entry.kind, "claim")
        return f"{words}: {entry.says}" if entry.says else f"{words} no. {entry.number}"
    of = getattr(claim, "of", ())
    subject = f" ({', '.join(of)})" if of and of != ("site",) else ""
    return f"{WORDS[entry.kind]}{subject}: {_figure(claim)}"


def _figure(claim: Any) -> str:
    """Return the claimed figure with its unit [text]."""
    if isinstance(claim, c.FuelClaim):
        return str(claim.claimed.written)
    if isinstance(claim, c.ArrayClaim) and claim.claimed_w is None:
        return f"{claim.modules} modules"
    if hasattr(claim, "claimed_frac"):
        return f"{100 * claim.claimed_frac:.6g} %"
    pair = getattr(claim, "claimed", None)
    if isinstance(pair, tuple):
        return f"{pair[1]:g} {pair[0]}"
    for key, unit in (
        ("claimed_d", "d"), ("claimed_w", "W"), ("claimed_h", "h"),
        ("claimed_degc", "degC"), ("claimed_v", "V"), ("claimed_y", "years"),
    ):  # fmt: skip
        if hasattr(claim, key):
            value = getattr(claim, key)
            return f"{value:g} {unit}"
    return ""
