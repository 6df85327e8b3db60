"""What documents say of a part's draw, and the figures that follow from it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from statistics import median
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, ValidationError, model_validator

from powerbudget.data.figures import STATUS, Status
from powerbudget.site.fields import Draw, FieldUnit, Line, Strict, Text

OLD_GRADES = {"memory": "unverified", "judged": "assumed"}
"""Words of own parts written before 0.2.0, read until 0.3.0."""


def _grade(value: object) -> object:
    return OLD_GRADES.get(value, value) if isinstance(value, str) else value


Grade = Annotated[
    Literal["read in full", "excerpt", "unverified", "assumed"], BeforeValidator(_grade)
]
PartFigure = Literal[
    "power", "current", "base", "per_channel", "transmit", "receive", "sleep"
]
_NONE = {"low": 0.0, "typical": 0.0, "high": 0.0}
LOOSE = frozenset({"unverified", "assumed"})
"""Grades without a document."""


def _listed(value: object) -> object:
    return [value] if isinstance(value, str) else value


class PartReading(Strict):
    """What one document says of one figure of a part."""

    figure: PartFigure = Field(
        "power",
        description="Figure of the part that the document states.",
        examples=["power"],
    )
    draws: Annotated[
        tuple[Draw, ...], BeforeValidator(_listed), Field(min_length=1)
    ] = Field(
        alias="value",
        description="Value or values of the document, with unit.",
        examples=["1.2 W", ["0.9 W", "1.1 W"]],
    )
    supply_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=100)] | None = Field(
        None,
        alias="at",
        description="Supply voltage of a value in amperes.",
        examples=["12 V"],
    )
    maximum: bool = Field(
        False,
        description="True where the document states a maximum, not a typical value.",
        examples=[True],
    )
    condition: Text = Field(
        "",
        description="Operating condition of the value.",
        examples=["display off, 20 mA output"],
    )
    document: Annotated[Line, Field(min_length=3)] = Field(
        description="Type of document, without the maker's name.",
        examples=["data sheet"],
    )
    year: Annotated[int, Field(ge=1950, le=2100)] | None = Field(
        None, description="Year of the document.", examples=[2019]
    )
    page: Text = Field(
        "", description="Page or table of the value.", examples=["page 3, table 2"]
    )
    grade: Grade = Field(
        description="How the value was read; `unverified` and `assumed` stand for no document.",
        examples=["read in full"],
    )
    public: bool = Field(
        False,
        description="True where the document is public and can be found from the "
        "citation.",
        examples=[True],
    )

    @model_validator(mode="after")
    def _in_one_unit(self) -> PartReading:
        wanted = "A" if self.figure == "current" else "W"
        for unit, _ in self.draws:
            if unit == "W" and wanted == "A":
                raise ValueError("needs amperes: the draw follows from the loop supply")
            if unit == "A" and wanted == "W" and self.supply_v is None:
                raise ValueError('needs the supply volts of its amperes: at = "12 V"')
        return self

    @property
    def amounts(self) -> tuple[float, ...]:
        """Each value in the unit of its figure [W or A]."""
        volts = (self.supply_v or 1.0) if self.figure != "current" else 1.0
        return tuple(x * (volts if unit == "A" else 1.0) for unit, x in self.draws)

    @property
    def status(self) -> Status:
        """What the value stands on [text]."""
        if self.grade in LOOSE:
            return "unverified" if self.grade == "unverified" else "assumed"
        return "published" if self.public else "data sheet"

    @property
    def citation(self) -> str:
        """Document, year and page, without the condition [text]."""
        if self.grade in LOOSE:
            return self.document + ", unverified" * (self.grade == "unverified")
        return ", ".join(
            filter(None, (self.document, str(self.year or "undated"), self.page))
        )


def weakest(words: Iterable[Status]) -> Status:
    """Return the word of least trust among some [text].

    Parameters
    ----------
    words
        At least one [text].

    Examples
    --------
    >>> weakest(["unverified", "data sheet"])
    'unverified'
    """
    return max(words, key=STATUS.index)


def counted(readings: Sequence[PartReading], figure: str) -> tuple[PartReading, ...]:
    """Return the readings that a figure follows from.

    What is unverified or assumed counts only where no document says anything.

    Parameters
    ----------
    readings
        All of a part.
    figure
        Such as ``power`` [text].
    """
    own = tuple(one for one in readings if one.figure == figure)
    read = tuple(one for one in own if one.grade not in LOOSE)
    return read or own


def spread(readings: Sequence[PartReading]) -> dict[str, float]:
    """Return low, typical and high of readings of one figure [W or A].

    Lowest, median and highest; a stated maximum is no typical draw, so it counts in
    the median only where no reading is anything else.
    """
    every = [x for one in readings for x in one.amounts]
    means = [x for one in readings if not one.maximum for x in one.amounts]
    return {"low": min(every), "typical": median(means or every), "high": max(every)}


def derived(raw: dict[str, Any], figures: Mapping[str, type[Any]]) -> dict[str, Any]:
    """Return the keys of a part that follow from its readings.

    Parameters
    ----------
    raw
        A ``[[part]]`` table as written.
    figures
        Fields of its kind that hold low, typical and high, with their model.

    Raises
    ------
    ValueError
        When a figure is written out beside its readings, or its kind has none such.
    """
    try:
        readings = tuple(PartReading.model_validate(one) for one in raw["reading"])
    except ValidationError:
        # Told with its key by the part itself; nothing else is missing because of it.
        none = {name: model.model_construct(**_NONE) for name, model in figures.items()}
        return {**none, "source": "readings", "status": "unverified"}
    named = dict.fromkeys(one.figure for one in readings)
    for name in named:
        if name not in figures:
            raise ValueError(f"has no figure {name!r}; it has {', '.join(figures)}")
        if name in raw:
            raise ValueError(f"gives {name} twice: written out and in its readings")
    used = [one for name in named for one in counted(readings, name)]
    found: dict[str, Any] = {
        name: figures[name].model_construct(**spread(counted(readings, name)))
        for name in named
    }
    found["source"] = "; ".join(dict.fromkeys(one.citation for one in used))
    found["status"] = weakest(one.status for one in used)
    return found
