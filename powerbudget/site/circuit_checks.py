"""Checks of circuit keys against each other and the bus, for the reader."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from powerbudget.errors import Fault


def circuit_faults(pieces: dict[str, Any]) -> Iterator[Fault]:
    """Yield contradictions in fuses, limits and the enclosure.

    Parameters
    ----------
    pieces
        Tables by key; None where a table could not be read.

    Yields
    ------
    Fault
        One for each contradiction.
    """
    yield from _windows(pieces.get("supply") or ())
    yield from _regulator(pieces.get("regulator"), pieces.get("bus"))
    yield from _battery(pieces.get("battery"))
    yield from _enclosure(pieces.get("protection"))


def _windows(supplies: Any) -> Iterator[Fault]:
    for number, supply in enumerate(supplies, start=1):
        low = getattr(supply, "minimum_v", None)
        high = getattr(supply, "maximum_v", None)
        if low is not None and high is not None and low >= high:
            yield Fault(
                f"supply[{number}].minimum_input", "is not below maximum_input",
                f"{low:g} V and {high:g} V",
            )  # fmt: skip


def _regulator(regulator: Any, bus: Any) -> Iterator[Fault]:
    limit = getattr(regulator, "maximum_input_v", None)
    if limit is not None and bus is not None and limit <= bus.nominal_v:
        yield Fault(
            "regulator.maximum_input", "does not fit the bus", f"{limit:g} V",
            f"more than {bus.nominal_v:g} V: the highest array voltage that it bears",
        )  # fmt: skip


def _battery(battery: Any) -> Iterator[Fault]:
    rating = getattr(battery, "fuse_interrupting_a", None)
    fuse = getattr(battery, "fuse_a", None)
    if rating is None:
        return
    if not fuse:
        yield Fault(
            "battery.fuse_interrupting", "belongs to a fuse, and none is given",
            f"{rating:g} A", "fuse beside it",
        )  # fmt: skip
    elif rating < fuse:
        yield Fault(
            "battery.fuse_interrupting", "is below the fuse's own rating",
            f"{rating:g} A", f"at least {fuse:g} A, usually thousands of amperes",
        )  # fmt: skip


def _enclosure(protection: Any) -> Iterator[Fault]:
    cold = getattr(protection, "enclosure_coldest_degc", None)
    hot = getattr(protection, "enclosure_hottest_degc", None)
    if cold is not None and hot is not None and cold >= hot:
        yield Fault(
            "protection.enclosure_coldest", "is not below enclosure_hottest",
            f"{cold:g} °C and {hot:g} °C",
        )  # fmt: skip
