"""The machine that a claim is about, as the simulation knows machines."""

from __future__ import annotations

from dataclasses import replace

from powerbudget.data.figures import Figure
from powerbudget.generators.unit import Unit, make_unit, make_units
from powerbudget.review.claim_tables import FuelClaim, GeneratorClaim
from powerbudget.review.variants import Desk
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


def own_unit(word: str, fuel: str | None, desk: Desk | None) -> Unit | None:
    """Return the site's own machine of the kind that a claim names [Unit].

    Parameters
    ----------
    word, fuel
        Kind as the claim says it; its fuel, None where the claim names none [text].
    desk
        The site, None without.

    Returns
    -------
    Unit or None
        The first of that kind and fuel in the site file.
    """
    if desk is None:
        return None
    burns = fuels_of(word) if fuel is None else (fuel,)
    for unit in make_units(desk.design.tables):
        if unit.kind.name == kind_of(word) and unit.fuel.name in burns:
            return unit
    return None


def fuelled_unit(claim: FuelClaim, rated_w: float, desk: Desk | None) -> Unit:
    """Return the machine whose fuel is claimed, as the site has it or by its kind.

    Parameters
    ----------
    claim
        About fuel.
    rated_w
        Rated output [W].
    desk
        The site, None without.
    """
    own = own_unit(claim.generator, claim.fuel, desk)
    if own is not None:
        return _rated(own, rated_w)
    return _plain(claim.generator, claim.fuel, rated_w, 0.0)


def rated_unit(claim: GeneratorClaim, height_m: float, desk: Desk | None) -> Unit:
    """Return the machine whose watts are claimed, as the site has it or by its kind.

    Parameters
    ----------
    claim
        About watts.
    height_m
        Where it stands [m].
    desk
        The site, None without.
    """
    own = own_unit(claim.generator, None, desk)
    unit = (
        _plain(claim.generator, fuels_of(claim.generator)[0], claim.claimed_w, height_m)
        if own is None
        else replace(_rated(own, claim.claimed_w), elevation_m=height_m)
    )
    stated = claim.fuel_adjusted_for_altitude
    return unit if stated is None else unit.with_fuel_adjusted(stated)


def _plain(word: str, fuel: str, rated_w: float, height_m: float) -> Unit:
    """Return a machine with everything by its kind [Unit]."""
    table = Generator.model_validate(
        {"name": word, "kind": kind_of(word), "fuel": fuel, "rated": f"{rated_w!r} W"}
    )
    return make_unit(table, height_m)


def _rated(own: Unit, rated_w: float) -> Unit:
    """Return the site's machine at another rating, everything else as stated [Unit]."""
    if rated_w == own.rated_w:
        return own
    ratio = rated_w / own.table.rated_w
    table = own.table
    scaled = {
        name: getattr(table, name) * ratio
        for name in ("power_limit_w", "fuel_use_l_d")
        if getattr(table, name) is not None
    }
    update = {"rated_w": rated_w, "quantity": 1, **scaled}
    return replace(own, table=table.model_copy(update=update))


def at_efficiency(unit: Unit, efficiency_frac: float, heat_mj_per_l: float) -> Unit:
    """Return the same machine at another efficiency, on fuel of another heat [Unit].

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
