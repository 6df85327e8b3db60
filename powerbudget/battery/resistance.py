"""Resistance of a bank to a short burst, and its short-circuit current.

The hourly run uses a slow resistance, which holds what hours of current do to a
cell.  A radio's burst of a second and a short circuit meet the fast one, which is a
tenth of it.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from powerbudget.battery.bank import Bank

OHM_AH: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "agm": (0.05, 0.083),
        "gel": (0.083, 0.133),
        "flooded": (0.067, 0.10),
        "tubular": (0.10, 0.20),
        "nicd": (0.15, 0.25),
        "nicd-arctic": (0.15, 0.25),
        "lfp": (0.03, 0.06),
        "lithium-ion": (0.10, 0.20),
    }
)
"""Fast resistance of one cell times its rated Ah at 25 degC, full, low and high: 12 V
100 Ah sealed 3 to 5 mohm (glass mat) and 5 to 8 (gel), flooded 4 to 6, nickel-cadmium
1.5 to 2.5 mohm and lithium iron phosphate 0.3 to 0.6 for 100 Ah a cell, lithium-ion
40 to 70 mohm for 2.6 Ah; tubular judged.
All unverified [ohm Ah]."""
LOW_STATE = 2.0
"""Fast resistance of a nearly empty cell over that of a full one, unverified."""
SOURCE = (
    "internal resistance of cells unverified (12 V 100 Ah glass mat 3 to 5 "
    "mΩ); replace it by the manufacturer's value"
)


def ohmic_ohm(
    bank: Bank, battery_degc: float, *, low_state: bool = False, best: bool = False
) -> float:
    """Return the fast resistance of a bank [ohm].

    Parameters
    ----------
    bank
        The bank; name-plate Ah count, age is left out [-].
    battery_degc
        Battery temperature [degC].
    low_state
        Whether the bank is nearly empty [-].
    best
        The low end of the figures, for a short circuit; else the high end [-].

    Returns
    -------
    float
        ``cells * r / Ah``, times what cold and a low state do [ohm].

    References
    ----------
    Unverified; see `OHM_AH`.  Temperature: the chemistry's own multiplier.
    """
    low, high = OHM_AH[bank.chemistry.name]
    each = low if best else high
    ratio = float(bank.chemistry.discharge_by_degc.at(battery_degc))
    state = LOW_STATE if low_state else 1.0
    return bank.cells * each * ratio * state / bank.nameplate_ah


def short_circuit_a(bank: Bank, unit_a: float | None = None) -> float:
    """Return the current of a bolted short circuit at the bank's terminals [A].

    Parameters
    ----------
    bank
        The bank, full and at 25 degC [-].
    unit_a
        Short-circuit current of one unit by its maker; None computes it [A].

    Returns
    -------
    float
        Strings in parallel add up; units in series do not [A].

    References
    ----------
    ``I = V_rest / R``, resistance unverified; makers state it after IEC 60896-21.
    """
    if unit_a is not None:
        return bank.parallel * unit_a
    rest = bank.cells * float(bank.chemistry.open_circuit.at(1.0))
    return rest / ohmic_ohm(bank, 25.0, best=True)
