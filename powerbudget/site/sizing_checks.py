"""What cannot be meant in `[sizing]`: no step to buy, no limit to fit a string to."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from powerbudget.errors import Fault
from powerbudget.quantities import count
from powerbudget.site.sizing import AUTO


def sizing_faults(steps: Any, regulator: Any, criteria: Any) -> Iterator[Fault]:
    """Yield what is wrong between the keys of ``[sizing]`` [Fault].

    Parameters
    ----------
    steps
        The ``[sizing]`` table, None where it could not be read.
    regulator, criteria
        Those tables, None where one could not be read.
    """
    if steps is None:
        return
    for what in ("array", "battery"):
        step = getattr(steps, f"{what}_step")
        most = getattr(steps, f"max_{what}_strings")
        if step > most:
            yield Fault(
                f"sizing.{what}_step",
                "leaves no step that could be bought",
                f"{count(step, 'string')} per step, up to {most}",
                f"1 to {most}, or a larger max_{what}_strings",
            )
    if steps.battery_age == "beginning-of-life" and getattr(
        criteria, "at_end_of_life", False
    ):
        yield Fault(
            "sizing.battery_age",
            "contradicts criteria.at_end_of_life",
            "'beginning-of-life', and at_end_of_life = true",
            "one of the two",
            "leave at_end_of_life out to size for the battery as built",
        )
    tracker = regulator is not None and regulator.kind == "mppt"
    limit = steps.array_voltage_limit_v or getattr(regulator, "maximum_input_v", None)
    if steps.series == AUTO and tracker and limit is None:
        yield Fault(
            "sizing.series",
            "cannot be sized without the maximum input voltage of the charge controller",
            "'auto'",
            "array_voltage_limit = '150 V', or series = [1, 2]",
        )
