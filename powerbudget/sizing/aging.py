"""The battery over its life and under doubt: new, half-way, old; both cold curves."""

from __future__ import annotations

from dataclasses import dataclass

from powerbudget.balance.simulation import Simulation, bank_life, simulate_size
from powerbudget.battery.ageing import Life
from powerbudget.battery.bank import Bank
from powerbudget.battery.ventilation import Ventilation, ventilation
from powerbudget.errors import Finding
from powerbudget.quantities import in_unit
from powerbudget.site.scenario import Scenario
from powerbudget.sizing.autonomy import design_autonomy_days, record_autonomy
from powerbudget.sizing.criteria import judge
from powerbudget.sizing.recovery import Recovery, recovery


@dataclass(frozen=True)
class Case:
    """The same site with the bank in another state or on another curve.

    Parameters
    ----------
    name
        Which [text].
    health_frac, cold_curve
        What was changed [fraction, text].
    availability_frac, lowest_soc_frac
        From the hourly run [fraction].
    autonomy_design_days, autonomy_record_days
        Both autonomies [d].
    hours_frozen
        With a frozen bank [h].
    failed
        Criteria that are not met [text].
    """

    name: str
    health_frac: float
    cold_curve: str
    availability_frac: float
    lowest_soc_frac: float
    autonomy_design_days: float
    autonomy_record_days: float
    hours_frozen: float
    failed: tuple[str, ...]


@dataclass(frozen=True)
class Outlook:
    """What the battery does beyond one run.

    Parameters
    ----------
    life
        Years to replacement and what ends it.
    ages
        New, mid-life and end of life.
    curves
        On each built-in cold curve; one case where they are the same.
    curves_differ
        Whether a criterion is met on one curve and not on the other: they differ by
        more than the verdict's margin.
    recovery, ventilation
        After an outage, and air against hydrogen.
    findings
        What a colleague would point out.
    """

    life: Life
    ages: tuple[Case, ...]
    curves: tuple[Case, ...]
    curves_differ: bool
    recovery: Recovery
    ventilation: Ventilation
    findings: tuple[Finding, ...]


def outlook(run: Simulation) -> Outlook:
    """Return the battery's outlook for a simulated site.

    Returns
    -------
    Outlook
        Each case is the whole record run again.
    """
    bank = run.bank
    life = bank_life(run)
    ages = tuple(_case(run, name, _aged(h)) for name, h in _ages(bank))
    curves = _on_each_curve(run)
    differ = len({case.failed for case in curves}) > 1
    after = recovery(run)
    return Outlook(
        life=life,
        ages=ages,
        curves=curves,
        curves_differ=differ,
        recovery=after,
        ventilation=ventilation(bank, run.problem.design.tables.battery.charge_mode),
        findings=tuple(_findings(run, life, ages, curves, after)),
    )


def doubts(run: Simulation) -> tuple[Finding, ...]:
    """Return whether age or the other cold curve would overturn a verdict.

    Parameters
    ----------
    run
        A simulation of the design in question.

    Returns
    -------
    tuple of Finding
        Empty when the criteria are met, or missed, on all of them alike.
    """
    bank = run.bank
    ages = tuple(
        _case(run, name, _aged(h), light=True)
        for name, h in _ages(bank)
        if name != "mid-life"
    )
    curves = _on_each_curve(run, light=True)
    return (*_age_findings(ages), *_curve_findings(curves))


def _ages(bank: Bank) -> tuple[tuple[str, float], ...]:
    end = bank.chemistry.end_of_life_frac
    return (("new", 1.0), ("mid-life", (1.0 + end) / 2), ("end of life", end))


def _on_each_curve(run: Simulation, *, light: bool = False) -> tuple[Case, ...]:
    """Return the site on each built-in cold curve, once where they are the same."""
    bank = run.bank
    names = list(bank.chemistry.cold)
    if len({bank.chemistry.cold[name].y for name in names}) == 1:
        names = [bank.cold_curve]
    return tuple(
        _case(run, name, Scenario(temperature_derating=name), light=light)
        for name in names
    )


def _age_findings(ages: tuple[Case, ...]) -> list[Finding]:
    lost = sorted(set(ages[-1].failed) - set(ages[0].failed))
    if not lost:
        return []
    return [
        Finding(
            "warning",
            "The design passes with a new battery and fails at end of life "
            f"(SOH {in_unit(100 * ages[-1].health_frac, '%')}): {', '.join(lost)}. "
            "Set at_end_of_life = true",
        )
    ]


def _curve_findings(curves: tuple[Case, ...]) -> list[Finding]:
    if len({case.failed for case in curves}) < 2:
        return []
    parts = [f"{case.name}: {', '.join(case.failed) or 'none'}" for case in curves]
    return [
        Finding(
            "warning",
            "Result depends on the temperature derating: FAIL with "
            + "; FAIL with ".join(parts),
        )
    ]


def _aged(health_frac: float) -> Scenario:
    return Scenario(state_of_health_frac=health_frac)


def _case(
    run: Simulation, name: str, scenario: Scenario, *, light: bool = False
) -> Case:
    """Return one case; a light one is without the autonomy of the record."""
    again = run
    health = scenario.state_of_health_frac or run.bank.health_frac
    curve = scenario.temperature_derating or run.bank.cold_curve
    if (health, curve) != (run.bank.health_frac, run.bank.cold_curve):
        problem = run.problem.under(scenario)
        again = simulate_size(problem, run.strings, run.bank.parallel)
    problem, bank = again.problem, again.bank
    degc = problem.design.tables.criteria.autonomy_degc
    days = design_autonomy_days(problem, bank, degc)
    verdicts = judge(again, days)
    return Case(
        name=name,
        health_frac=bank.health_frac,
        cold_curve=bank.cold_curve,
        availability_frac=again.availability_frac,
        lowest_soc_frac=again.lowest_soc_frac,
        autonomy_design_days=days,
        autonomy_record_days=float("nan") if light else record_autonomy(again)[0],
        hours_frozen=again.frost.hours_frozen,
        failed=tuple(v.name for v in verdicts if not v.met),
    )


def _findings(
    run: Simulation,
    life: Life,
    ages: tuple[Case, ...],
    curves: tuple[Case, ...],
    after: Recovery,
) -> list[Finding]:
    found = []
    age = run.problem.design.tables.battery.age_y
    if age is not None and age > life.life_y:
        found.append(
            Finding(
                "serious",
                f"The battery age is {age:g} yr; its calculated life here is "
                f"{in_unit(life.life_y, 'yr', 1)} ({life.limited_by}, average "
                f"{in_unit(life.mean_degc, '°C')}). Replace it before use",
            )
        )
    found += _age_findings(ages)
    found += _curve_findings(curves)
    if not after.flat_restarts:
        found.append(
            Finding(
                "serious" if run.outages else "note",
                (
                    "A fully discharged battery needs manual recovery (site visit). Cause: "
                    f"{after.reason}"
                ),
            )
        )
    return found
