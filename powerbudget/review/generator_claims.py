"""Claims about generators: the fuel they burn, and whether their watts carry a site."""

from __future__ import annotations

from dataclasses import replace

from powerbudget.errors import Fault
from powerbudget.generators.altitude import setups_words
from powerbudget.generators.cold import fuel_pressure_check
from powerbudget.generators.library import Fuel, fuels, source_kinds
from powerbudget.generators.unit import Unit
from powerbudget.limits import CLAIM_ROUNDING_FRAC, within
from powerbudget.quantities import show
from powerbudget.review.claim_tables import FuelClaim, GeneratorClaim
from powerbudget.review.claimed_machine import (
    at_efficiency,
    fuelled_unit,
    fuels_of,
    kind_of,
    rated_unit,
)
from powerbudget.review.result import Case, Judged, Solved, conclude, meets
from powerbudget.review.variants import HIGH_END, LOW_END, Desk

MJ_PER_KWH = 3.6
WARM_TANK = "how the tank is kept warm enough for its burner: see `powerbudget check`"
HYDROGEN = "fuel handling, venting and area classification follow the codes in force"


def judge_fuel(claim: FuelClaim, blank: Judged, desk: Desk | None) -> Judged:
    """Return a claim about fuel, judged by heat and plausible efficiency.

    Parameters
    ----------
    claim, blank
        The claim, and its result so far.
    desk
        The site, whose own machine of that kind and fuel stands in for the typical
        one; None without.

    Returns
    -------
    Judged
        Found is what the simulation burns, in the claim's own unit; supported where
        the efficiency that the claim implies is one that such a source reaches.
    """
    use, faults = claim.claimed, _fuel_faults(claim)
    if faults:
        return replace(blank, problems=tuple(faults))
    if not use.kwh and claim.power_w is None:
        return _bare_fuel(claim, blank, desk)
    kwh = use.kwh or (claim.power_w or 0.0) * use.hours / 1000
    if claim.basis == "thermal":
        return conclude(_thermal(claim, blank, kwh * claim.share_of_time_frac))
    rated_w = claim.rated_w or claim.power_w
    unit = fuelled_unit(claim, rated_w or _usual_w(claim), desk)
    load_w = claim.power_w or unit.rated_w
    high, low = _ends(unit)
    least, typical, most = (_amount(claim, u, load_w) for u in (high, unit, low))
    per = _per(claim)
    text = f"plausible from {show(least, use.unit)} to {show(most, use.unit)} a {per}"
    case = Case(
        f"typical efficiency {100 * _efficiency_frac(unit, load_w):.1f} %",
        typical,
        use.amount >= least * (1 - 0.005),
    )
    done = replace(
        blank,
        claimed=use.amount,
        found=typical,
        unit=f"{use.unit}/{per}",
        found_low=least,
        found_high=most,
        sense="at most",
        cases=(case,),
        solved=(Solved("fuel", least, use.unit, text),),
        remarks=tuple(_fuel_remarks(claim, unit, load_w, typical)),
        holds_already=_fuel_holds(claim),
        sources=_fuel_sources(unit),
        cautions=(HYDROGEN,),
    )
    return conclude(done)


def _usual_w(claim: FuelClaim) -> float:
    """Return the rating taken where a claim by the kilowatt-hour names none [W]."""
    return float(source_kinds()[kind_of(claim.generator)].words["usual_w"])


def _ends(unit: Unit) -> tuple[Unit, Unit]:
    """Return the machine at its best on rich fuel, and at its worst on lean fuel."""
    efficiency, heat = unit.data("efficiency_frac"), unit.fuel.heat
    return (
        at_efficiency(unit, efficiency.high, heat.high),
        at_efficiency(unit, efficiency.low, heat.low),
    )


def _efficiency_frac(unit: Unit, load_w: float) -> float:
    """Return electricity over heat of the fuel at a load [fraction]."""
    return load_w / float(unit.fuel_w(load_w))


def _amount(claim: FuelClaim, unit: Unit, load_w: float) -> float:
    """Return what a machine burns at a load, counted as the claim counts [unit]."""
    use = claim.claimed
    amount = float(unit.fuel_per_day(load_w))
    if use.unit == "kg":
        amount *= unit.fuel.kg_per_l or 1.0
    if use.kwh:
        return amount / (24 * load_w / 1000) * float(use.kwh)
    share = 1.0 if _burns_full(unit) else claim.share_of_time_frac
    return amount * (float(use.hours) / 24) * share


def _burns_full(unit: Unit) -> bool:
    return unit.no_load_frac >= 1.0


def _heat_mj(fuel: Fuel, unit: str) -> float:
    """Return the gross heat of a unit that has passed the claim's checks [MJ/unit]."""
    return fuel.mj_per(unit) or 0.0


def _fuel_faults(claim: FuelClaim) -> list[Fault]:
    title = source_kinds()[kind_of(claim.generator)].title
    use, fuel, found = claim.claimed, fuels()[claim.fuel], []
    burns = fuels_of(claim.generator)
    if claim.fuel not in burns:
        problem = f"is not what a {title} burns"
        found.append(Fault("fuel", problem, claim.fuel, ", ".join(burns)))
    if fuel.mj_per(use.unit) is None:
        units = ", ".join(u for u in ("m3", "L", "kg") if fuel.mj_per(u) is not None)
        problem = f"counts {fuel.title} in {use.unit}"
        found.append(Fault("claimed", problem, use.written, f"per {units}"))
    if claim.rated_w is not None and (claim.power_w or 0.0) > claim.rated_w:
        problem = "is below the power that it is for"
        most = f"at least {claim.power_w:g} W"
        found.append(Fault("rated", problem, f"{claim.rated_w:g} W", most))
    return found


def _bare_fuel(claim: FuelClaim, blank: Judged, desk: Desk | None) -> Judged:
    """Return a claim without watts: the mean load that its fuel would carry."""
    use, per = claim.claimed, _per(claim)
    heat_wh = use.amount * _heat_mj(fuels()[claim.fuel], use.unit) / MJ_PER_KWH * 1000
    mean_w = heat_wh / use.hours
    # Machines of the size that the fuel itself speaks of.
    rough = fuelled_unit(claim, _usual_w(claim), desk).data("efficiency_frac").value
    unit = fuelled_unit(claim, claim.rated_w or mean_w * rough, desk)
    efficiency = unit.data("efficiency_frac")
    thermal = claim.basis == "thermal"
    shares = (efficiency.low, efficiency.value, efficiency.high)
    least, typical, most = (mean_w * (1.0 if thermal else share) for share in shares)
    kind = "rated output" if _burns_full(unit) else "mean load"
    text = f"it is enough for a {kind} of at most {show(most, 'W')}"
    remark = (
        f"the fuel holds {show(heat_wh / 1000, 'kWh')} of gross heat a {per}: at "
        f"{100 * shares[0]:.3g}, {100 * shares[1]:.3g} or {100 * shares[2]:.3g} % a {kind} "
        f"of {show(least, 'W')}, {show(typical, 'W')} or {show(most, 'W')}"
    )
    return replace(
        blank,
        claimed=use.amount,
        unit=f"{use.unit}/{per}",
        sense="at most",
        condition=text,
        solved=(Solved("load", most, "W", text),),
        remarks=() if thermal else (remark,),
        missing=("the watts that it is for: fuel over a time says nothing without",),
        sources=_fuel_sources(unit),
        cautions=(HYDROGEN,),
    )


def _per(claim: FuelClaim) -> str:
    """Return over what the claimed fuel is counted [text]."""
    words = claim.claimed.written.replace(" per ", "/").replace(" a ", "/")
    return str(words.split("/")[-1].strip())


def _fuel_source(fuel: Fuel) -> str:
    return f"{fuel.title} ({fuel.heat.status}): {fuel.heat.source}"


def _fuel_sources(unit: Unit) -> tuple[str, ...]:
    return (_fuel_source(unit.fuel), *_said(unit, "efficiency_frac"))


def _said(unit: Unit, *names: str) -> tuple[str, ...]:
    """Return where figures of a machine's kind come from [text]."""
    found = [unit.data(name) for name in names]
    return tuple(f"{unit.kind.title} ({x.status}): {x.source}" for x in found)


def _thermal(claim: FuelClaim, blank: Judged, kwh: float) -> Judged:
    """Return a claim about heat: the fuel's own, no engine between."""
    use, fuel = claim.claimed, fuels()[claim.fuel]
    gross = kwh * MJ_PER_KWH / _heat_mj(fuel, use.unit)
    net = gross / fuel.net_over_gross_frac
    name = "gross heat of the fuel"
    holds = meets(use.amount, gross, "at most")
    return replace(
        blank,
        claimed=use.amount,
        found=gross,
        unit=f"{use.unit}/kWh thermal",
        found_low=gross,
        found_high=net,
        sense="at most",
        cases=(Case(name, gross, holds),),
        solved=(Solved("fuel", net, use.unit, f"{show(net, use.unit)} on net heat"),),
        remarks=(
            "a figure per thermal kWh: electric energy takes as many times more as the "
            "efficiency is below one",
        ),
        sources=(_fuel_source(fuel),),
    )


def _fuel_remarks(
    claim: FuelClaim, unit: Unit, load_w: float, typical: float
) -> list[str]:
    amount, found = claim.claimed.amount, []
    # The same machine burns the more, the less of its heat becomes electricity.
    at_load = _efficiency_frac(unit, load_w)
    implied = at_load * typical / amount
    high, low = (_efficiency_frac(end, load_w) for end in _ends(unit))
    net = implied / unit.fuel.net_over_gross_frac
    found.append(
        f"the claim implies {100 * implied:.3g} % of the gross heat ({100 * net:.3g} % of "
        f"the net heat); a {unit.kind.title} reaches {100 * low:.3g} to "
        f"{100 * high:.3g} % of the gross heat"
        + ("" if load_w == unit.rated_w else f" at {_part(unit, load_w)}")
    )
    thermal = at_load * typical
    if implied > high and 0.85 <= amount / thermal <= 1.25:
        found.append(
            "it is the fuel's own heat, per thermal and not per electric kWh: "
            f"{show(thermal, claim.claimed.unit)}"
        )
    elif implied > 1:
        found.append("more electricity than the fuel holds heat: nothing can do that")
    if not within(implied, low, "lower", CLAIM_ROUNDING_FRAC * low):
        found.append(
            "the claim is on the safe side: more fuel than such a source needs"
        )
    full = _burns_full(unit)
    if full and claim.share_of_time_frac < 1 and not claim.claimed.kwh:
        found.append("it burns its full fuel at any load: a part load saves none")
    if full and claim.claimed.kwh:
        found.append(
            "per kWh of rated output: at part load the fuel per kWh used rises"
        )
    return found


def _part(unit: Unit, load_w: float) -> str:
    return f"{show(load_w, 'W')} of {show(unit.rated_w, 'W')}"


def _fuel_holds(claim: FuelClaim) -> tuple[str, ...]:
    if claim.claimed.kwh:
        return (
            "the efficiency: fuel per electric kWh must not be divided by it again",
        )
    return ()


def judge_generator(claim: GeneratorClaim, blank: Judged, desk: Desk | None) -> Judged:
    """Return a claim that a generator carries the site, judged.

    Parameters
    ----------
    claim, blank
        The claim, and its result so far.
    desk
        The site; without one the claim must state load, temperature and elevation.

    Returns
    -------
    Judged
        Found are the rated watts that the site's mean load takes in the hottest hour
        of the record and at the site's height, with the output that the simulation
        gives such a machine.
    """
    if desk is None:
        return _without_site(claim, blank)
    hot = float(desk.problem.record.temp_air_degc.max())
    place = desk.design.tables.site
    height = place.elevation_m if claim.elevation_m is None else claim.elevation_m
    degc = hot if claim.temperature_degc is None else max(claim.temperature_degc, hot)
    unit = rated_unit(claim, height, desk)
    cases = _generator_cases(claim, desk, unit, degc)
    starved = _starved(claim, desk)
    peak, output = desk.budget.maximum_w, float(unit.bus_w(degc))
    more = [f"the simultaneous maximum of {show(peak, 'W')} needs a battery beside it"]
    done = _generator_done(claim, blank, unit, degc, (*cases, *starved))
    here = f"{done.solved[0].text} (here {show(desk.load_spread.typical, 'W')})"
    done = replace(
        done,
        found_low=cases[1].found,
        found_high=cases[2].found,
        solved=(replace(done.solved[0], text=here),),
        remarks=(*done.remarks, *(more if peak > output else ())),
        missing=(*_load_missing(cases[:3]), *((WARM_TANK,) if starved else ())),
    )
    return conclude(done)


def _generator_done(
    claim: GeneratorClaim,
    blank: Judged,
    unit: Unit,
    degc: float,
    cases: tuple[Case, ...],
) -> Judged:
    """Return the result of a claim about watts before its verdict."""
    output = float(unit.bus_w(degc))
    text = (
        f"in {degc:.0f} degC at {unit.elevation_m:.0f} m it gives {show(output, 'W')}: it "
        "carries a mean load of that"
    )
    both = setups_words(unit)
    return replace(
        blank,
        claimed=claim.claimed_w,
        unit="W",
        sense="at most",
        cases=cases,
        solved=(Solved("load", output, "W", text),),
        remarks=(both,) if both else (),
        sources=_said(unit, "ambient_per_k", "altitude_per_km"),
        cautions=(HYDROGEN, "ageing and one source without a spare are not in it"),
    )


def _without_site(claim: GeneratorClaim, blank: Judged) -> Judged:
    """Return a claim about watts under the conditions that it states itself."""
    unit_w = claim.load if claim.load is not None and claim.load[0] == "W" else None
    degc, height = claim.temperature_degc, claim.elevation_m
    missing = [
        name
        for name, given in (
            ("the mean load in watts that it is for", unit_w),
            ("the hottest air that it works in", degc),
            ("the elevation of the place", height),
        )
        if given is None
    ]
    if unit_w is None or degc is None or height is None:
        return replace(blank, claimed=claim.claimed_w, unit="W", missing=tuple(missing))
    unit, watts = rated_unit(claim, height, None), unit_w[1]
    name = f"{show(watts, 'W')} at {degc:g} degC and {height:g} m"
    case = _case(claim, unit, name, watts, degc)
    return conclude(_generator_done(claim, blank, unit, degc, (case,)))


def _case(
    claim: GeneratorClaim, unit: Unit, name: str, watts: float, degc: float
) -> Case:
    """Return the rated watts that a load takes at a temperature."""
    share = float(unit.bus_w(degc)) / unit.rated_w
    if share <= 0.0:
        return Case(f"{name}: it gives nothing at {degc:.0f} degC", None, holds=False)
    needed = watts / share
    return Case(name, needed, meets(claim.claimed_w, needed, "at most"))


def _generator_cases(
    claim: GeneratorClaim, desk: Desk, unit: Unit, degc: float
) -> list[Case]:
    """Return the rated watts that each end of the load takes, and those as claimed."""
    ends = desk.load_spread
    cases = [
        _case(claim, unit, name, watts, degc)
        for name, watts in (
            ("typical load", ends.typical),
            (LOW_END, ends.low),
            (HIGH_END, ends.high),
        )
    ]
    if claim.load is not None or claim.temperature_degc is not None:
        watts = desk.watts(claim.load) or ends.typical
        at = claim.temperature_degc
        at = unit.figure("rated_degc") if at is None else at
        name = f"as claimed: {show(watts, 'W')} at {at:g} degC"
        cases.append(replace(_case(claim, unit, name, watts, at), where="claimed"))
    return cases


def _starved(claim: GeneratorClaim, desk: Desk) -> list[Case]:
    """Return a case that fails for each propane tank too cold for its burner."""
    found = []
    for unit in desk.problem.sources.units:
        cold = fuel_pressure_check(unit, desk.problem.record)
        if (
            unit.kind.name == kind_of(claim.generator)
            and cold is not None
            and cold.hours_below
        ):
            name = (
                f"propane of {cold.name}: starved for {cold.hours_below:,.0f} h of the "
                f"record, tank below {cold.limit_degc:.0f} degC"
            )
            found.append(Case(name, None, holds=False))
    return found


def _load_missing(cases: list[Case]) -> tuple[str, ...]:
    here = [case.holds for case in cases if case.where == "site"]
    if len(set(here)) < 2:
        return ()
    return ("the site's load as measured over a day or more",)
