"""The string's highest voltage, cold and open, and what it may not exceed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from powerbudget.charging.controller import open_circuit_cold_v
from powerbudget.errors import Hindrance
from powerbudget.limits import within
from powerbudget.quantities import count, in_unit
from powerbudget.site.tables import ModuleData

if TYPE_CHECKING:
    from powerbudget.array.module import Module
    from powerbudget.site.reader import Design

STRING_VOLTAGE = "maximum PV system voltage"
"""Name of the check and of the criterion."""
COLD_FACTORS: tuple[tuple[int, float], ...] = (
    (20, 1.02), (15, 1.04), (10, 1.06), (5, 1.08), (0, 1.10), (-5, 1.12), (-10, 1.14),
    (-15, 1.16), (-20, 1.18), (-25, 1.20), (-30, 1.21), (-35, 1.23), (-40, 1.25),
)  # fmt: skip
"""Lower end of each band and its factor, NEC Table 690.7(A) [degC, ratio]."""


@dataclass(frozen=True)
class ColdString:
    """A string's highest voltage above a limit.

    Parameters
    ----------
    volts, limit_v
        Cold and open, and the lowest limit that it exceeds [V].
    degc
        Temperature of air and cells [degC].
    subject
        Whose limit [text].
    most
        Modules in series that stay within it [count].
    """

    volts: float
    limit_v: float
    degc: float
    subject: str
    most: int

    @property
    def hindrance(self) -> Hindrance:
        """Volts and limit, and what keeps within it."""
        fewer = f"use {count(self.most, 'module')} in series at most"
        remedy = fewer if self.most else "use modules of a lower voltage"
        return Hindrance(
            f"string Voc {in_unit(self.volts, 'V', 1)} at "
            f"{in_unit(self.degc, '°C', 1)} exceeds the "
            f"{self.limit_v:g} V of the {self.subject}",
            f"{remedy}, or a higher voltage rating",
        )


def cold_factor(lowest_degc: float) -> float | None:
    """Return the code table's factor on the open-circuit voltage [ratio].

    Parameters
    ----------
    lowest_degc
        Lowest expected air temperature [degC].

    Returns
    -------
    float or None
        1 from 25 degC up; None below -40 degC, where the table ends [ratio].

    Notes
    -----
    For crystalline and multicrystalline silicon, and only where the module's own
    coefficient is not known.  Bands are printed in whole degrees; what lies between
    two of them is taken as the colder.

    References
    ----------
    NEC Table 690.7(A).

    Examples
    --------
    >>> cold_factor(-5.0), cold_factor(-36.0), cold_factor(-41.0)
    (1.12, 1.25, None)
    """
    if lowest_degc >= 25.0:
        return 1.0
    for low, factor in COLD_FACTORS:
        if lowest_degc >= low:
            return factor
    return None


def coefficient_known(design: Design) -> bool:
    """Return whether the module's own voltage coefficient is stated."""
    data = design.module_data
    if isinstance(data, ModuleData):
        return "open_circuit_per_k" in data.model_fields_set
    return True


def string_cold_v(design: Design, module: Module, series: int, degc: float) -> float:
    """Return the highest voltage of a string by which its limits are judged [V].

    Parameters
    ----------
    design
        A checked site.
    module
        Its module.
    series
        Modules in the string [count].
    degc
        Coldest of weather file and design temperatures [degC].

    Returns
    -------
    float
        By the module's own coefficient; where that is not stated the larger of a usual
        one and of the code table, as far as the table goes [V].
    """
    own, factor = open_circuit_cold_v(module, series, degc), cold_factor(degc)
    if coefficient_known(design) or factor is None:
        return own
    return max(own, series * module.open_circuit_v * factor)


def voltage_limits(design: Design) -> tuple[tuple[str, float | None, str], ...]:
    """Return what a string's voltage must not exceed: whose, volts, key [text, V]."""
    system = getattr(design.module_data, "system_v", None)
    return (
        (
            "charge controller input",
            design.tables.regulator.maximum_input_v,
            "[charge_controller] maximum_input",
        ),
        ("module insulation", system, "maximum_system_voltage of the module"),
    )


def too_high(
    design: Design,
    module: Module,
    series: int,
    degc: float,
    asked_v: float | None = None,
) -> ColdString | None:
    """Return a string that is above one of its limits in the cold, None where none is.

    Parameters
    ----------
    design, module, series, degc
        As in `string_cold_v`.
    asked_v
        A further limit, ``[sizing] array_voltage_limit`` [V].
    """
    volts = string_cold_v(design, module, series, degc)
    limits = [(limit, subject) for subject, limit, _ in voltage_limits(design)]
    over = [
        (limit, subject)
        for limit, subject in (*limits, (asked_v, "search"))
        if limit is not None and not within(volts, limit, "upper")
    ]
    if not over:
        return None
    limit, subject = min(over)
    most = int(limit * series / volts)
    return ColdString(volts, limit, degc, subject, most)
