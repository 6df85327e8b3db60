"""The tables `[sizing]` and `[worksheet]`: how far to search, and figures by hand."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema

from powerbudget.quantities import QuantityError
from powerbudget.site.fields import (
    Count,
    FieldUnit,
    Fraction,
    InWords,
    Strict,
    Text,
    _parse,
)

AUTO = "auto"


def _angles(value: Any) -> Any:
    """Return ``"auto"``, or tilts in degrees from text with one unit or a list."""
    if value == AUTO:
        return AUTO
    example = "needs 'auto', or tilts with their unit: '50 65 80 deg'"
    if isinstance(value, str):
        *numbers, unit = value.replace(",", " ").split() or [""]
        value = [f"{number} {unit}" for number in numbers]
    if not isinstance(value, list | tuple) or not 1 <= len(value) <= 19:
        raise QuantityError(example + ", 1 to 19 of them")
    if not all(isinstance(item, str) for item in value):
        raise QuantityError(example)
    tilts = tuple(sorted({_parse(item, "deg") for item in value}))
    if tilts[0] < 0 or tilts[-1] > 90:
        raise QuantityError("is out of range: tilts lie between 0 and 90 deg")
    return tilts


def _counts(value: Any) -> Any:
    """Return ``"auto"``, or whole numbers of modules in series."""
    if value == AUTO:
        return AUTO
    if isinstance(value, int) and not isinstance(value, bool):
        value = [value]
    plain = isinstance(value, list | tuple) and all(
        isinstance(item, int) and not isinstance(item, bool) and 1 <= item <= 60
        for item in value
    )
    if not plain or not value:
        raise QuantityError("needs 'auto', or whole numbers from 1 to 60: [1, 2, 3]")
    return tuple(sorted(set(value)))


Tilts = Annotated[
    tuple[float, ...] | Literal["auto"],
    InWords("deg", "auto, or 1 to 19 tilts of 0 deg to 90 deg"),
    BeforeValidator(_angles),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string"},
                {"type": "array", "items": {"type": "string"}, "minItems": 1},
            ],
            "description": "'auto', or tilts with their unit: '50 65 80 deg'",
        }
    ),
]
Series = Annotated[
    tuple[int, ...] | Literal["auto"],
    InWords("count", "auto, or numbers from 1 to 60"),
    BeforeValidator(_counts),
    WithJsonSchema(
        {
            "anyOf": [
                {"const": "auto"},
                {"type": "integer", "minimum": 1},
                {
                    "type": "array",
                    "minItems": 1,
                    "items": {"type": "integer", "minimum": 1},
                },
            ],
            "description": "'auto', or modules in series to try: [1, 2, 3]",
        }
    ),
]


class Steps(Strict):
    """Search range and size steps of `size`."""

    max_array_strings: Annotated[Count, Field(le=500)] = Field(
        24, description="Largest number of PV strings in the search.", examples=[24]
    )
    max_battery_strings: Annotated[Count, Field(le=200)] = Field(
        16,
        description="Largest number of parallel battery strings in the search.",
        examples=[16],
    )
    array_step: Annotated[Count, Field(le=500)] = Field(
        1, description="Size step of the array, in strings.", examples=[2]
    )
    battery_step: Annotated[Count, Field(le=200)] = Field(
        1, description="Size step of the battery, in parallel strings.", examples=[2]
    )
    tilts: Tilts | None = Field(
        None,
        description="Tilts to try; `auto` tries angles near the latitude. Without it: "
        "the tilt of [array].",
        examples=["50 65 80 deg"],
    )
    series: Series | None = Field(
        None,
        description="Modules in series to try; `auto` tries every number that suits "
        "both voltages. Without it: that of [array].",
        examples=[[1, 2, 3]],
    )
    battery_age: Literal["end-of-life", "beginning-of-life"] = Field(
        "end-of-life",
        description="Battery condition that every size must pass with.",
        examples=["end-of-life"],
    )
    array_voltage_limit_v: (
        Annotated[float, FieldUnit("V"), Field(gt=0, le=1500)] | None
    ) = Field(
        None,
        alias="array_voltage_limit",
        description="Largest cold string Voc in the search. Without it: the input "
        "rating of the charge controller.",
        examples=["150 V"],
    )
    module_mass_kg: Annotated[float, FieldUnit("kg"), Field(gt=0, le=200)] | None = (
        Field(
            None,
            alias="module_mass",
            description="Mass of one PV module. Without it: that of the part.",
            examples=["5 kg"],
        )
    )
    battery_unit_mass_kg: (
        Annotated[float, FieldUnit("kg"), Field(gt=0, le=5000)] | None
    ) = Field(
        None,
        alias="battery_unit_mass",
        description="Mass of one battery unit. Without it: that of the part.",
        examples=["31 kg"],
    )


class WorksheetKeys(Strict):
    """Figures of the sizing worksheet."""

    margin_frac: Fraction = Field(
        0.0,
        alias="margin",
        description="Design margin on the worksheet battery. Leave it out where [bus] "
        "has a contingency.",
        examples=["10 %"],
    )
    end_of_life_frac: Annotated[Fraction, Field(gt=0)] | None = Field(
        None,
        alias="end_of_life",
        description="End-of-life capacity in the worksheet. Without it: 80 %.",
        examples=["80 %"],
    )
    charge_efficiency_frac: Annotated[Fraction, Field(gt=0)] | None = Field(
        None,
        alias="charge_efficiency",
        description="Coulombic efficiency in the worksheet. Without it: that of the "
        "chemistry.",
        examples=["85 %"],
    )
    system_loss_frac: Annotated[Fraction, Field(lt=1)] | None = Field(
        None,
        alias="system_losses",
        description="System losses in the worksheet. Without it: the losses of [array].",
        examples=["10 %"],
    )
    end_volts_per_cell_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=4)] | None = (
        Field(
            None,
            alias="end_volts_per_cell",
            description="End-of-discharge voltage per cell. Without it the cell count is omitted.",
            examples=["1.80 V"],
        )
    )
    source: Text = Field(
        "",
        description="Where the worksheet figures come from.",
        examples=["company standard E-12"],
    )
