"""What feeds a load: the bus, or a converter on it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from powerbudget.loads.converter import slope_from_point
from powerbudget.site.load import Supply
from powerbudget.site.parts import ConverterPart
from powerbudget.site.reader import Design


@dataclass(frozen=True)
class Rail:
    """A converter between bus and loads, or the bus itself.

    Parameters
    ----------
    name
        Name of the supply, ``bus`` for the bus [text].
    volts
        Nominal output [V].
    no_load_w, slope
        The two terms of the converter [W, W/W].
    rated_w
        Highest output [W].
    minimum_v
        Least input at which it works, 0 where not known [V].
    source, status
        Where the figures came from [text].
    """

    name: str
    volts: float
    no_load_w: float = 0.0
    slope: float = 1.0
    rated_w: float = float("inf")
    minimum_v: float = 0.0
    source: str = ""
    status: str = ""

    def input_w(self, output_w: float) -> float:
        """Return what it draws from the bus while it gives out so much [W]."""
        return self.no_load_w + self.slope * output_w

    def conversion_w(self, output_w: float) -> float:
        """Return its loss above no load while it gives out so much [W]."""
        return (self.slope - 1) * output_w

    def scaled(self, factor: float) -> Rail:
        """Return a converter so many times as large, of the same volts [Rail]."""
        return replace(
            self,
            no_load_w=factor * self.no_load_w,
            rated_w=factor * self.rated_w if factor else self.rated_w,
        )


def rails(design: Design) -> dict[str, Rail]:
    """Return the rails of a site by name; the bus has an empty name.

    Returns
    -------
    dict
        Name of the supply to its rail.
    """
    found = {"": Rail("bus", design.tables.bus.nominal_v)}
    for supply in design.tables.supply:
        found[supply.name] = _rail(supply, design)
    return found


def _rail(supply: Supply, design: Design) -> Rail:
    part = design.parts.get(supply.part or "")
    known = part if isinstance(part, ConverterPart) else None
    volts = supply.output_v or (known.output if known else 0.0)
    rated = supply.rated_w or (known.rated if known else 0.0)
    no_load = supply.no_load_w
    if no_load is None:
        no_load = known.no_load if known else 0.0
    efficiency = supply.efficiency_frac or (known.efficiency if known else 1.0)
    return Rail(
        supply.name,
        volts,
        no_load,
        slope_from_point(rated, efficiency, no_load),
        rated,
        supply.minimum_v or (known.input.min if known and known.input else 0.0),
        supply.source or (known.source if known else "site file"),
        known.status if known else design.own_status,
    )
