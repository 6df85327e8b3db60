"""Claims about generators: the fuel they burn, and whether their watts carry a site."""

from __future__ import annotations

from dataclasses import replace

from powerbudget.data.figures import Figure
from powerbudget.errors import Fault
from powerbudget.generators.altitude import setups_words
from powerbudget.generators.cold import fuel_pressure_check
from powerbudget.generators.library import Fuel, fuels, source_kinds
from powerbudget.generators.unit import Machine, make_unit, make_units
from powerbudget.limits import CLAIM_ROUNDING_FRAC, within
from powerbudget.quantities import in_unit, plain, show
from powerbudget.review.claim_tables import FuelClaim, GeneratorClaim
from powerbudget.review.result import Judged, Where, refuse
from powerbudget.review.site_conditions import MEASURED_LOAD
from powerbudget.review.varied_site import HIGH_END, LOW_END, VariedSite
from powerbudget.site.generator import Generator
from powerbudget.site.generator_checks import BURNS

ONE_FUEL = {"diesel-engine": ("engine", "diesel")}
"""Words of a claim that say kind and fuel at once."""


def kind_of(word: str) -> str:
    """Return the kind of source that a word of a claim stands for [text]."""
    return ONE_FUEL.get(word, (word, ""))[0]


def fuels_of(word: str) -> tuple[str, ...]:
    """Return what the machine of a claim can burn [text]."""
    return (ONE_FUEL[word][1],) if word in ONE_FUEL else BURNS[word]


def site_machine(
    word: str, fuel: str | None, site: VariedSite | None
) -> Machine | None:
    """Return the site's own machine of the kind that a claim names [Machine].

    Parameters
    ----------
    word, fuel
        Kind as the claim says it; its fuel, None where the claim names none [text].
    site
        The site, None without.

    Returns
    -------
    Machine or None
        The first of that kind and fuel in the site file.
    """
    if site is None:
        return None
    burns = fuels_of(word) if fuel is None else (fuel,)
    for unit in make_units(site.design.tables):
        if unit.kind.name == kind_of(word) and unit.fuel.name in burns:
            return unit
    return None


def fuelled_unit(claim: FuelClaim, rated_w: float, site: VariedSite | None) -> Machine:
    """Return the machine whose fuel is claimed, as the site has it or by its kind.

    Parameters
    ----------
    claim
        About fuel.
    rated_w
        Rated output [W].
    site
        The site, None without.
    """
    machine = site_machine(claim.generator, claim.fuel, site)
    if machine is not None:
        return _rated(machine, rated_w)
    return _plain(claim.generator, claim.fuel, rated_w, 0.0)


def rated_unit(
    claim: GeneratorClaim, height_m: float, site: VariedSite | None
) -> Machine:
    """Return the machine whose watts are claimed, as the site has it or by its kind.

    Parameters
    ----------
    claim
        About watts.
    height_m
        Where it stands [m].
    site
        The site, None without.
    """
    machine = site_machine(claim.generator, None, site)
    unit = (
        _plain(claim.generator, fuels_of(claim.generator)[0], claim.claimed_w, height_m)
        if machine is None
        else replace(_rated(machine, claim.claimed_w), elevation_m=height_m)
    )
    stated = claim.fuel_adjusted_for_altitude
    return unit if stated is None else unit.with_fuel_adjusted(stated)


def _plain(word: str, fuel: str, rated_w: float, height_m: float) -> Machine:
    """Return a machine with everything by its kind [Machine]."""
    table = Generator.model_validate(
        {"name": word, "kind": kind_of(word), "fuel": fuel, "rated": f"{rated_w!r} W"}
    )
    return make_unit(table, height_m)


def _rated(machine: Machine, rated_w: float) -> Machine:
    """Return the site's machine at another rating, everything else as stated [Machine]."""
    if rated_w == machine.rated_w:
        return machine
    ratio = rated_w / machine.table.rated_w
    table = machine.table
    scaled = {
        name: getattr(table, name) * ratio
        for name in ("power_limit_w", "fuel_use_l_d")
        if getattr(table, name) is not None
    }
    update = {"rated_w": rated_w, "quantity": 1, **scaled}
    return replace(machine, table=table.model_copy(update=update))


def at_efficiency(
    unit: Machine, efficiency_frac: float, heat_mj_per_l: float
) -> Machine:
    """Return the same machine at another efficiency, on fuel of another heat [Machine].

    Parameters
    ----------
    unit
        A machine.
    efficiency_frac
        Electricity over higher heating value at rated output [fraction].
    heat_mj_per_l
        Higher heating value [MJ/L].
    """
    update = {"efficiency_frac": efficiency_frac, "fuel_use_l_d": None}
    heat: Figure = replace(unit.fuel.heat, value=heat_mj_per_l)
    return replace(
        unit,
        table=unit.table.model_copy(update=update),
        fuel=replace(unit.fuel, heat=heat),
    )


MJ_PER_KWH = 3.6
WARM_TANK = (
    "measure that keeps the tank warm enough for its burner: see `powerbudget check`"
)
HYDROGEN = "fuel handling, venting and area classification follow the codes in force"


def judge_fuel(claim: FuelClaim, answer: Judged, site: VariedSite | None) -> None:
    """Ask for what the simulation burns, in the claim's own unit.

    The site's own machine of that kind and fuel stands in for the typical one, and
    its rating for watts that the claim does not name.  Supported where the efficiency
    that the claim implies is one that such a source reaches.
    """
    refuse(_fuel_faults(claim))
    claim = _of_site(claim, answer, site)
    use, per = claim.claimed, _per(claim)
    answer.claimed, answer.unit = use.amount, f"{use.unit}/{per}"
    if not use.kwh and claim.power_w is None:
        _ask_load_of_fuel(claim, answer, site)
        return
    if claim.basis == "thermal":
        _ask_heat(claim, answer)
        return
    rated_w = claim.rated_w or claim.power_w
    unit = fuelled_unit(claim, rated_w or _usual_w(claim), site)
    load_w = claim.power_w or unit.rated_w
    high, low = _ends(unit)
    least, typical, most = (_amount(claim, u, load_w) for u in (high, unit, low))
    name = f"typical efficiency {in_unit(100 * _efficiency_frac(unit, load_w), '%', 1)}"
    answer.case(name, typical, use.amount >= least * (1 - 0.005))
    answer.range_over([least, most])
    text = (
        f"plausible range {show(least, use.unit)} to {show(most, use.unit)} per {per}"
    )
    answer.turns("fuel", least, use.unit, text)
    _fuel_remarks(claim, answer, unit, load_w)
    if use.kwh:
        answer.holds_already.append(
            "efficiency is already included in fuel per electric kWh"
        )
    answer.sources += _fuel_sources(unit)
    answer.cautions.append(HYDROGEN)


def _of_site(claim: FuelClaim, answer: Judged, site: VariedSite | None) -> FuelClaim:
    """Return a claim about a time with the watts of the burner that the site has.

    What follows the load burns by the hours that it runs, which no rating tells.
    """
    machine = site_machine(claim.generator, claim.fuel, site)
    named = claim.power_w or claim.claimed.kwh or claim.basis == "thermal"
    if named or machine is None or not _burns_full(machine):
        return claim
    watts = claim.rated_w or machine.rated_w
    if claim.rated_w is None:
        text = (
            f"the claim states no power: that of {machine.name} in the site file is "
            "used"
        )
        answer.remarks.append(f"{text}, {show(watts, 'W')}")
    return claim.model_copy(update={"power_w": watts})


def _usual_w(claim: FuelClaim) -> float:
    """Return the rating taken where a claim by the kilowatt-hour names none [W]."""
    return float(source_kinds()[kind_of(claim.generator)].words["usual_w"])


def _ends(unit: Machine) -> tuple[Machine, Machine]:
    """Return the machine at its best on rich fuel, and at its worst on lean fuel."""
    efficiency, heat = unit.data("efficiency_frac"), unit.fuel.heat
    return (
        at_efficiency(unit, efficiency.high, heat.high),
        at_efficiency(unit, efficiency.low, heat.low),
    )


def _efficiency_frac(unit: Machine, load_w: float) -> float:
    """Return electricity over heat of the fuel at a load [fraction]."""
    return load_w / float(unit.fuel_w(load_w))


def _amount(claim: FuelClaim, unit: Machine, load_w: float) -> float:
    """Return what a machine burns at a load, counted as the claim counts [unit]."""
    use = claim.claimed
    amount = float(unit.fuel_per_day(load_w))
    if use.unit == "kg":
        amount *= unit.fuel.kg_per_l or 1.0
    if use.kwh:
        return amount / (24 * load_w / 1000) * float(use.kwh)
    share = 1.0 if _burns_full(unit) else claim.share_of_time_frac
    return amount * (float(use.hours) / 24) * share


def _burns_full(unit: Machine) -> bool:
    return unit.no_load_frac >= 1.0


def _heat_mj(fuel: Fuel, unit: str) -> float:
    """Return the gross heat of a unit that has passed the claim's checks [MJ/unit]."""
    return fuel.mj_per(unit) or 0.0


def _fuel_faults(claim: FuelClaim) -> list[Fault]:
    title = source_kinds()[kind_of(claim.generator)].title
    use, fuel, faults = claim.claimed, fuels()[claim.fuel], []
    burns = fuels_of(claim.generator)
    if claim.fuel not in burns:
        problem = f"is not a fuel for {title}"
        faults.append(Fault("fuel", problem, claim.fuel, ", ".join(burns)))
    if fuel.mj_per(use.unit) is None:
        units = ", ".join(u for u in ("m3", "L", "kg") if fuel.mj_per(u) is not None)
        problem = f"{fuel.title} is measured in {use.unit}"
        faults.append(Fault("claimed", problem, use.written, f"per {units}"))
    if claim.rated_w is not None and (claim.power_w or 0.0) > claim.rated_w:
        problem = "is below the part-load power of the claim"
        most = f"at least {claim.power_w:g} W"
        faults.append(Fault("rated", problem, f"{claim.rated_w:g} W", most))
    return faults


def _ask_load_of_fuel(
    claim: FuelClaim, answer: Judged, site: VariedSite | None
) -> None:
    """Ask for the mean load that the fuel of a claim without watts would carry."""
    use, per = claim.claimed, _per(claim)
    heat_wh = use.amount * _heat_mj(fuels()[claim.fuel], use.unit) / MJ_PER_KWH * 1000
    mean_w = heat_wh / use.hours
    # Machines of the size that the fuel itself speaks of.
    rough = fuelled_unit(claim, _usual_w(claim), site).data("efficiency_frac").value
    unit = fuelled_unit(claim, claim.rated_w or mean_w * rough, site)
    efficiency = unit.data("efficiency_frac")
    thermal = claim.basis == "thermal"
    shares = (efficiency.low, efficiency.value, efficiency.high)
    least, typical, most = (mean_w * (1.0 if thermal else share) for share in shares)
    kind = "rated output" if _burns_full(unit) else "average load"
    text = f"enough for a {kind} of {show(most, 'W')} or less"
    answer.turns("load", most, "W", text)
    if not thermal:
        answer.remarks.append(
            f"fuel heat {show(heat_wh / 1000, 'kWh')} per {per} (higher heating "
            f"value): at {100 * shares[0]:.3g}, {100 * shares[1]:.3g} or "
            f"{plain(100 * shares[2], 3, '%')} a {kind} of {show(least, 'W')}, "
            f"{show(typical, 'W')} or {show(most, 'W')}"
        )
    answer.missing.append("the power of the claim: fuel per time needs it")
    answer.sources += _fuel_sources(unit)
    answer.cautions.append(HYDROGEN)


def _per(claim: FuelClaim) -> str:
    """Return over what the claimed fuel is counted [text]."""
    words = claim.claimed.written.replace(" per ", "/").replace(" a ", "/")
    return str(words.split("/")[-1].strip())


def _fuel_source(fuel: Fuel) -> str:
    return f"{fuel.title} ({fuel.heat.status}): {fuel.heat.source}"


def _fuel_sources(unit: Machine) -> list[str]:
    return [_fuel_source(unit.fuel), *_sources(unit, "efficiency_frac")]


def _sources(unit: Machine, *names: str) -> list[str]:
    """Return where figures of a machine's kind come from [text]."""
    figures = [unit.data(name) for name in names]
    return [f"{unit.kind.title} ({x.status}): {x.source}" for x in figures]


def _ask_heat(claim: FuelClaim, answer: Judged) -> None:
    """Ask for the fuel's own heat, no engine between."""
    use, fuel = claim.claimed, fuels()[claim.fuel]
    kwh = use.kwh or (claim.power_w or 0.0) * use.hours / 1000
    heat_mj = kwh * claim.share_of_time_frac * MJ_PER_KWH
    gross = heat_mj / _heat_mj(fuel, use.unit)
    net = gross / fuel.net_over_gross_frac
    answer.unit = f"{use.unit}/kWh thermal"
    answer.case("higher heating value of the fuel", gross)
    answer.range_over([gross, net])
    answer.turns(
        "fuel", net, use.unit, f"{show(net, use.unit)} on the lower heating value"
    )
    answer.remarks.append(
        "thermal kWh stated: divide by the efficiency for electric kWh"
    )
    answer.sources.append(_fuel_source(fuel))


def _fuel_remarks(
    claim: FuelClaim, answer: Judged, unit: Machine, load_w: float
) -> None:
    amount, typical = claim.claimed.amount, answer.cases[0].found or 0.0
    # The same machine burns the more, the less of its heat becomes electricity.
    at_load = _efficiency_frac(unit, load_w)
    implied = at_load * typical / amount
    high, low = (_efficiency_frac(end, load_w) for end in _ends(unit))
    net = implied / unit.fuel.net_over_gross_frac
    part = f" at {show(load_w, 'W')} of {show(unit.rated_w, 'W')}"
    words = [
        f"the claim implies {plain(100 * implied, 3, '%')} of the higher heating "
        f"value ({plain(100 * net, 3, '%')} "
        f"of the lower); a {unit.kind.title} reaches {100 * low:.3g} to "
        f"{plain(100 * high, 3, '%')} of the higher heating "
        f"value{part if load_w != unit.rated_w else ''}"
    ]
    thermal = at_load * typical
    if implied > high and 0.85 <= amount / thermal <= 1.25:
        words.append(
            "stated value is fuel heat, per thermal and not per electric kWh: "
            f"{show(thermal, claim.claimed.unit)}"
        )
    elif implied > 1:
        words.append("more electricity than fuel heat: not possible")
    if not within(implied, low, "lower", CLAIM_ROUNDING_FRAC * low):
        words.append("the claim is conservative: more fuel than such a source needs")
    if _burns_full(unit) and claim.claimed.kwh:
        words.append("per kWh at rated output: fuel per kWh increases at part load")
    elif _burns_full(unit) and claim.share_of_time_frac < 1:
        words.append("full fuel consumption at any load: part load saves none")
    answer.remarks += words


def judge_generator(
    claim: GeneratorClaim, answer: Judged, site: VariedSite | None
) -> None:
    """Ask for the rated watts that the mean load takes in the hottest hour.

    At the site's height, with the output that the simulation gives such a machine;
    without a site the claim must state load, temperature and elevation.
    """
    if site is None:
        _ask_stated(claim, answer)
        return
    hot = float(site.problem.record.temp_air_degc.max())
    here_m = site.design.tables.site.elevation_m
    height = here_m if claim.elevation_m is None else claim.elevation_m
    degc = hot if claim.temperature_degc is None else max(claim.temperature_degc, hot)
    unit, ends = rated_unit(claim, height, site), site.load_range
    for name, watts in (
        ("typical load", ends.typical), (LOW_END, ends.low), (HIGH_END, ends.high),
    ):  # fmt: skip
        _ask_rating(answer, unit, name, watts, degc)
    answer.found_low, answer.found_high = (case.found for case in answer.cases[1:])
    if answer.split:
        answer.missing.append(MEASURED_LOAD)
    if claim.load is not None or claim.temperature_degc is not None:
        watts, at = site.watts(claim.load) or ends.typical, claim.temperature_degc
        at = unit.figure("rated_degc") if at is None else at
        name = f"as claimed: {show(watts, 'W')} at {at:g} °C"
        _ask_rating(answer, unit, name, watts, at, "claimed")
    _ask_tanks(claim, answer, site)
    here = f" (here {show(ends.typical, 'W')})"
    output = _ask_output(answer, unit, degc, here)
    peak = site.budget.maximum_w
    if peak > output:
        answer.remarks.append(
            f"the maximum running load of {show(peak, 'W')} needs a battery"
        )


def _ask_output(answer: Judged, unit: Machine, degc: float, here: str) -> float:
    """Ask for the load that the claimed machine carries [W]."""
    output = float(unit.bus_w(degc))
    text = (
        f"at {in_unit(degc, '°C')} and {in_unit(unit.elevation_m, 'm')} it delivers "
        f"{show(output, 'W')}: it carries an average load of that{here}"
    )
    answer.turns("load", output, "W", text)
    if both := setups_words(unit):
        answer.remarks.append(both)
    answer.sources += _sources(unit, "ambient_per_k", "altitude_per_km")
    spare = "no spare source included"
    if not unit.table.age_y:
        spare = "degradation and a spare source are not included"
    answer.cautions += [HYDROGEN, spare]
    return output


def _ask_stated(claim: GeneratorClaim, answer: Judged) -> None:
    """Ask under the conditions that the claim states itself."""
    load_w = claim.load[1] if claim.load and claim.load[0] == "W" else None
    degc, height = claim.temperature_degc, claim.elevation_m
    conditions = {
        "the average load of the claim": load_w,
        "the highest ambient temperature": degc,
        "the elevation of the site": height,
    }
    answer.missing += [name for name, given in conditions.items() if given is None]
    if load_w is None or degc is None or height is None:
        return
    unit = rated_unit(claim, height, None)
    name = f"{show(load_w, 'W')} at {degc:g} °C and {height:g} m"
    _ask_rating(answer, unit, name, load_w, degc)
    _ask_output(answer, unit, degc, "")


def _ask_rating(
    answer: Judged,
    unit: Machine,
    name: str,
    watts: float,
    degc: float,
    where: Where = "site",
) -> None:
    """Ask for the rated watts that a load takes at a temperature."""
    share = float(unit.bus_w(degc)) / unit.rated_w
    if share > 0.0:
        answer.case(name, watts / share, where=where)
    else:
        name = f"{name}: no output at {in_unit(degc, '°C')}"
        answer.case(name, None, where=where)


def _ask_tanks(claim: GeneratorClaim, answer: Judged, site: VariedSite) -> None:
    """Add a case that fails for each propane tank too cold for its burner."""
    for unit in site.problem.sources.units:
        cold = fuel_pressure_check(unit, site.problem.record)
        if unit.kind.name != kind_of(claim.generator) or not cold:
            continue
        if cold.hours_below:
            name = (
                f"propane of {cold.name}: insufficient fuel pressure for "
                f"{in_unit(cold.hours_below, 'h')}, tank below {in_unit(cold.limit_degc, '°C')}"
            )
            answer.case(name, None)
    if any(case.name.startswith("propane of") for case in answer.cases):
        answer.missing.append(WARM_TANK)
