"""A module by its data-sheet points or from the CEC table, ready for the hourly run."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from powerbudget.array.fit import (
    BAND_GAP_EV,
    BAND_GAP_PER_K,
    Fit,
    Points,
    fit_points,
)
from powerbudget.errors import Fault, InputError
from powerbudget.quantities import plain
from powerbudget.site.module_checks import point_faults
from powerbudget.weather.late_imports import pvlib_module

if TYPE_CHECKING:
    from powerbudget.site.tables import ModuleData


@dataclass(frozen=True)
class Module:
    """One module at 1000 W/m2, 25 degC and its one-diode parameters.

    Parameters
    ----------
    name
        What the user called it [text].
    power_w
        Rated power on the name-plate [W].
    max_power_v
        Voltage at the maximum-power point [V].
    max_power_a
        Current there [A].
    open_circuit_v
        Open-circuit voltage [V].
    short_circuit_a
        Short-circuit current [A].
    open_circuit_per_k
        Change of the open-circuit voltage per degree, share of it [1/K].
    short_circuit_per_k
        Change of the short-circuit current per degree, share of it [1/K].
    cells
        Cells, in series or in groups [-].
    photocurrent_a
        Current of the light [A].
    saturation_a
        Dark saturation current [A].
    series_ohm
        Series resistance [ohm].
    shunt_ohm
        Shunt resistance [ohm].
    modified_ideality_v
        Ideality x cells in series x thermal voltage [V].
    photocurrent_a_per_k
        Change of the light's current per degree [A/K].
    band_gap_ev
        Band gap in the temperature rule [eV].
    band_gap_per_k
        Its change per degree, share of it [1/K].
    """

    name: str
    power_w: float
    max_power_v: float
    max_power_a: float
    open_circuit_v: float
    short_circuit_a: float
    open_circuit_per_k: float
    short_circuit_per_k: float
    cells: int
    photocurrent_a: float
    saturation_a: float
    series_ohm: float
    shunt_ohm: float
    modified_ideality_v: float
    photocurrent_a_per_k: float
    band_gap_ev: float = BAND_GAP_EV
    band_gap_per_k: float = BAND_GAP_PER_K


@lru_cache(maxsize=64)
def module_from_points(data: ModuleData, name: str) -> Module:
    """Return a module whose curve goes through the points of its data sheet.

    Parameters
    ----------
    data
        Data-sheet points at 1000 W/m2 and 25 degC [-].
    name
        What to call it in messages [text].

    Returns
    -------
    Module
        The points and the one-diode parameters [-].

    Raises
    ------
    InputError
        When the points cannot belong to one module; says which is out of place.

    Notes
    -----
    Power is exact at 1000 W/m2 and 25 degC.  Against 52 silicon rows of the CEC
    table it is within 2 % at 800 W/m2 and 25 degC, and at 45 degC from 1.8 % low to
    3.6 % high, 14 rows outside 2 %: five points hold no power coefficient.  Sheets
    with a very sharp knee get a band gap that is not silicon's, and came out up to
    8 % high at 150 W/m2.

    References
    ----------
    De Soto, Klein & Beckman, Improvement and validation of a model for
    photovoltaic array performance, Solar Energy 80 (2006), 78-88.
    """
    if faults := list(point_faults(data, name)):
        raise InputError(faults)
    fit = fit_points(
        Points(
            max_power_v=data.max_power_v,
            max_power_a=data.max_power_a,
            open_circuit_v=data.open_circuit_v,
            short_circuit_a=data.short_circuit_a,
            open_circuit_v_per_k=data.open_circuit_per_k * data.open_circuit_v,
            short_circuit_a_per_k=data.short_circuit_per_k * data.short_circuit_a,
        )
    )
    if fit is None:
        raise InputError(_no_curve(data, name))
    return _assemble(data, name, fit)


def _assemble(data: ModuleData, name: str, fit: Fit) -> Module:
    return Module(
        name=name,
        power_w=data.power_w,
        max_power_v=data.max_power_v,
        max_power_a=data.max_power_a,
        open_circuit_v=data.open_circuit_v,
        short_circuit_a=data.short_circuit_a,
        open_circuit_per_k=data.open_circuit_per_k,
        short_circuit_per_k=data.short_circuit_per_k,
        cells=data.cells,
        photocurrent_a=fit.photocurrent_a,
        saturation_a=fit.saturation_a,
        series_ohm=fit.series_ohm,
        shunt_ohm=fit.shunt_ohm,
        modified_ideality_v=fit.modified_ideality_v,
        photocurrent_a_per_k=data.short_circuit_per_k * data.short_circuit_a,
        band_gap_ev=fit.band_gap_ev,
    )


def _no_curve(data: ModuleData, name: str) -> Fault:
    """Say which point stands out when no one-diode curve goes through all of them."""
    volts = data.max_power_v / data.open_circuit_v
    amps = data.max_power_a / data.short_circuit_a
    slope = data.open_circuit_per_k
    if not -0.0045 <= slope <= -0.002:
        key, given = "open_circuit_temperature", plain(100 * slope, 3, "%/K")
        allowed = "-0.45 to -0.20 %/K"
    elif not 0.85 <= amps <= 0.965:
        key, given = "short_circuit_current", f"Imp / Isc = {amps:.3f}"
        allowed = "about 0.85 to 0.965"
    else:
        key, given = "open_circuit_voltage", f"Vmp / Voc = {volts:.3f}"
        allowed = "about 0.72 to 0.86"
    return Fault(
        f"{name}.{key}",
        "no one-diode curve goes through these data-sheet points",
        given,
        allowed,
        "check this value on the data sheet, at 1000 W/m² and 25 °C",
    )


@lru_cache(maxsize=64)
def module_from_cec(name: str) -> Module:
    """Return a module of the table that comes with pvlib.

    Parameters
    ----------
    name
        Exact name in the table [text].

    Returns
    -------
    Module
        The row's points and one-diode parameters [-].

    Raises
    ------
    InputError
        When there is no such row; the nearest spellings are given.

    Notes
    -----
    The table belongs to the California Energy Commission's list as published with
    a public simulation program in 2019.  Its sixth parameter changes only the
    temperature coefficients (Dobos 2012).

    References
    ----------
    Dobos, An improved coefficient calculator for the California Energy Commission
    6 parameter photovoltaic module model, Journal of Solar Energy Engineering 134
    (2012).
    """
    table = _cec_table()
    if name not in table.columns:
        near = get_close_matches(name, list(table.columns), n=3, cutoff=0.5)
        raise InputError(
            Fault(
                "array.module",
                "no module of this name in the CEC table or the parts library",
                repr(name),
                "an exact name of the table, or data-sheet points",
                "did you mean " + " or ".join(repr(word) for word in near)
                if near
                else "use the data-sheet points instead",
            )
        )
    row = table[name]
    adjust = 1.0 - float(row["Adjust"]) / 100.0
    return Module(
        name=name,
        power_w=float(row["STC"]),
        max_power_v=float(row["V_mp_ref"]),
        max_power_a=float(row["I_mp_ref"]),
        open_circuit_v=float(row["V_oc_ref"]),
        short_circuit_a=float(row["I_sc_ref"]),
        open_circuit_per_k=float(row["beta_oc"] / row["V_oc_ref"]),
        short_circuit_per_k=float(row["alpha_sc"] / row["I_sc_ref"]),
        cells=int(row["N_s"]),
        photocurrent_a=float(row["I_L_ref"]),
        saturation_a=float(row["I_o_ref"]),
        series_ohm=float(row["R_s"]),
        shunt_ohm=float(row["R_sh_ref"]),
        modified_ideality_v=float(row["a_ref"]),
        photocurrent_a_per_k=float(row["alpha_sc"]) * adjust,
    )


@lru_cache(maxsize=1)
def _cec_table() -> Any:
    return pvlib_module("pvsystem").retrieve_sam("CECMod")
