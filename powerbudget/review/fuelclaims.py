"""Claims about generators: the fuel they burn, and whether their watts carry a site."""

from __future__ import annotations

from dataclasses import replace

from powerbudget.errors import Fault
from powerbudget.generators.cold import fuel_pressure_check
from powerbudget.quantities import show
from powerbudget.review import fuelsums as fs
from powerbudget.review.claims import FuelClaim, GeneratorClaim
from powerbudget.review.desk import HIGH_END, LOW_END, Desk
from powerbudget.review.verdict import Case, Judged, Solved, conclude, meets

WARM_TANK = "how the tank is kept warm enough for its burner: see `powerbudget check`"
HYDROGEN = "fuel handling, venting and area classification follow the codes in force"


def judge_fuel(claim: FuelClaim, blank: Judged) -> Judged:
    """Return a claim about fuel, judged by heat and plausible efficiency.

    Parameters
    ----------
    claim, blank
        The claim, and its result so far.

    Returns
    -------
    Judged
        Found is the fuel at typical efficiency, in the claim's own unit; supported
        where the efficiency that the claim implies is one that such a source reaches.
    """
    generator, fuel = fs.generators()[claim.generator], fs.fuels()[claim.fuel]
    use, faults = claim.claimed, _fuel_faults(claim)
    if faults:
        return replace(blank, problems=tuple(faults))
    if not use.kwh and claim.power_w is None:
        return _bare_fuel(claim, blank)
    kwh = use.kwh or claim.power_w * use.hours / 1000
    if not use.kwh and not generator.idle_full:
        kwh *= claim.share_of_time_frac
    heat = fuel.gross_mj[use.unit]
    implied = float(fs.implied_efficiency_frac(1000 * kwh, 1.0, heat, use.amount))
    if claim.basis == "thermal":
        return conclude(_thermal(claim, blank, kwh, heat))
    low, high = fuel.range_frac if use.unit == "m3" else (1.0, 1.0)
    least = float(fs.fuel_used(1000 * kwh, 1.0, heat * high, generator.high_frac))
    most = float(fs.fuel_used(1000 * kwh, 1.0, heat * low, generator.low_frac))
    typical = float(fs.fuel_used(1000 * kwh, 1.0, heat, generator.typical_frac))
    per = _per(claim)
    text = f"plausible from {_amount(least, use.unit)} to {_amount(most, use.unit)} a {per}"
    case = Case(
        f"typical efficiency {100 * generator.typical_frac:.1f} %",
        typical,
        use.amount >= least * (1 - 0.005),
    )
    solved = Solved("fuel", least, use.unit, text)
    done = replace(
        blank,
        claimed=use.amount,
        found=typical,
        unit=f"{use.unit}/{per}",
        found_low=least,
        found_high=most,
        sense="at most",
        cases=(case,),
        solved=(solved,),
        remarks=tuple(_fuel_remarks(claim, implied, kwh, heat)),
        holds_already=_fuel_holds(claim),
        sources=_fuel_sources(claim),
        cautions=(HYDROGEN,),
    )
    return conclude(done)


def _amount(value: float, unit: str) -> str:
    return show(value, unit)


def _fuel_faults(claim: FuelClaim) -> list[Fault]:
    generator, fuel = fs.generators()[claim.generator], fs.fuels()[claim.fuel]
    use, found = claim.claimed, []
    if claim.fuel not in generator.fuels:
        problem = f"is not what a {generator.title} burns"
        allowed = ", ".join(generator.fuels)
        found.append(Fault("fuel", problem, claim.fuel, allowed))
    if use.unit not in fuel.gross_mj:
        units = ", ".join(fuel.gross_mj)
        problem = f"counts {fuel.title} in {use.unit}"
        found.append(Fault("claimed", problem, use.written, f"per {units}"))
    return found


def _bare_fuel(claim: FuelClaim, blank: Judged) -> Judged:
    """Return a claim without watts: the mean load that its fuel would carry."""
    generator, fuel = fs.generators()[claim.generator], fs.fuels()[claim.fuel]
    use, per = claim.claimed, _per(claim)
    heat_wh = use.amount * fuel.gross_mj[use.unit] / fs.MJ_PER_KWH * 1000
    mean_w = heat_wh / use.hours
    thermal = claim.basis == "thermal"
    shares = (generator.low_frac, generator.typical_frac, generator.high_frac)
    least, typical, most = (mean_w * (1.0 if thermal else share) for share in shares)
    kind = "rated output" if generator.idle_full else "mean load"
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
        sources=_fuel_sources(claim),
        cautions=(HYDROGEN,),
    )


def _per(claim: FuelClaim) -> str:
    """Return over what the claimed fuel is counted [text]."""
    words = claim.claimed.written.replace(" per ", "/").replace(" a ", "/")
    return str(words.split("/")[-1].strip())


def _fuel_sources(claim: FuelClaim) -> tuple[str, ...]:
    generator, fuel = fs.generators()[claim.generator], fs.fuels()[claim.fuel]
    return (
        f"{fuel.title} ({fuel.status}): {fuel.source}",
        f"{generator.title} ({generator.status}): {generator.source}",
    )


def _thermal(claim: FuelClaim, blank: Judged, kwh: float, heat: float) -> Judged:
    """Return a claim about heat: the fuel's own, no engine between."""
    use, fuel = claim.claimed, fs.fuels()[claim.fuel]
    gross = kwh * fs.MJ_PER_KWH / heat
    net = gross / fuel.net_ratio
    name = "gross heat of the fuel"
    holds = use.amount >= gross * 0.995
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
        sources=(f"{fuel.title} ({fuel.status}): {fuel.source}",),
    )


def _fuel_remarks(
    claim: FuelClaim, implied: float, kwh: float, heat: float
) -> list[str]:
    generator, fuel = fs.generators()[claim.generator], fs.fuels()[claim.fuel]
    net = implied / fuel.net_ratio
    found = [
        f"the claim implies {100 * implied:.3g} % of the gross heat ({100 * net:.3g} % of "
        f"the net heat); a {generator.title} reaches {100 * generator.low_frac:.3g} to "
        f"{100 * generator.high_frac:.3g} % of the gross heat"
    ]
    thermal = kwh * fs.MJ_PER_KWH / heat
    amount = claim.claimed.amount
    if implied > generator.high_frac and 0.85 <= amount / thermal <= 1.25:
        found.append(
            "it is the fuel's own heat, per thermal and not per electric kWh: "
            f"{show(thermal, claim.claimed.unit)}"
        )
    elif implied > 1:
        found.append("more electricity than the fuel holds heat: nothing can do that")
    if implied < generator.low_frac * 0.995:
        found.append(
            "the claim is on the safe side: more fuel than such a source needs"
        )
    if generator.idle_full and claim.share_of_time_frac < 1 and not claim.claimed.kwh:
        found.append("it burns its full fuel at any load: a part load saves none")
    if generator.idle_full and claim.claimed.kwh:
        found.append(
            "per kWh of rated output: at part load the fuel per kWh used rises"
        )
    return found


def _fuel_holds(claim: FuelClaim) -> tuple[str, ...]:
    if claim.claimed.kwh:
        return (
            "the efficiency: fuel per electric kWh must not be divided by it again",
        )
    return ()


def judge_generator(claim: GeneratorClaim, blank: Judged, desk: Desk) -> Judged:
    """Return a claim that a generator carries the site, judged.

    Parameters
    ----------
    claim, blank
        The claim, and its result so far.
    desk
        The site.

    Returns
    -------
    Judged
        Found are the rated watts that the site's mean load takes in the hottest hour
        of the record and at the site's height.
    """
    generator = fs.generators()[claim.generator]
    record = desk.problem.record
    hot = float(record.temp_air_degc.max())
    place = desk.design.tables.site
    height = place.elevation_m if claim.elevation_m is None else claim.elevation_m
    degc = hot if claim.temperature_degc is None else max(claim.temperature_degc, hot)
    share = float(fs.derated_w(1.0, degc, generator, height))
    ends = desk.load_spread
    claimed = claim.claimed_w
    cases = _generator_cases(claim, desk, share, height)
    starved = _starved(claim, desk)
    cases += starved
    output = claimed * share
    text = f"in {degc:.0f} degC at {height:.0f} m it gives {show(output, 'W')}: it carries "
    text += f"a mean load of that (here {show(ends.typical, 'W')})"
    peak = desk.budget.maximum_w
    remarks = [
        f"the simultaneous maximum of {show(peak, 'W')} needs a battery beside it"
    ]
    done = replace(
        blank,
        claimed=claimed,
        unit="W",
        sense="at most",
        cases=tuple(cases),
        found_low=cases[1].found,
        found_high=cases[2].found,
        solved=(Solved("load", output, "W", text),),
        remarks=tuple(remarks if peak > output else []),
        missing=(*_load_missing(cases[:3]), *((WARM_TANK,) if starved else ())),
        sources=(f"{generator.title} ({generator.status}): {generator.source}",),
        cautions=(HYDROGEN, "ageing and one source without a spare are not in it"),
    )
    return conclude(done)


def _generator_cases(
    claim: GeneratorClaim, desk: Desk, share: float, height: float
) -> list[Case]:
    """Return the rated watts that each end of the load takes, and those as claimed."""
    generator, ends = fs.generators()[claim.generator], desk.load_spread
    claimed, cases = claim.claimed_w, []
    for name, watts in (
        ("typical load", ends.typical),
        (LOW_END, ends.low),
        (HIGH_END, ends.high),
    ):
        needed = watts / share if share else float("inf")
        cases.append(Case(name, needed, meets(claimed, needed, "at most")))
    if claim.load is not None or claim.temperature_degc is not None:
        watts = desk.watts(claim.load) or ends.typical
        at = claim.temperature_degc
        at = generator.rated_degc if at is None else at
        own = watts / float(fs.derated_w(1.0, at, generator, height))
        name = f"as claimed: {show(watts, 'W')} at {at:g} degC"
        cases.append(Case(name, own, meets(claimed, own, "at most"), "claimed"))
    return cases


def _starved(claim: GeneratorClaim, desk: Desk) -> list[Case]:
    """Return a case that fails for each propane tank too cold for its burner."""
    found = []
    for unit in desk.problem.sources.units:
        cold = fuel_pressure_check(unit, desk.problem.record)
        if unit.kind.name == claim.generator and cold is not None and cold.hours_below:
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
