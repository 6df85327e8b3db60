"""The table `[document]`: what stands in the title block of the calculation package."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from powerbudget.site.fields import Line, Strict

Entry = Annotated[Line, Field(max_length=80)]


class Document(Strict):
    """Title block of the calculation package."""

    number: Entry = Field(
        "",
        description="Document number in the title block of the calculation package.",
        examples=["C-1042"],
    )
    revision: Entry = Field(
        "", description="Revision in the title block.", examples=["B"]
    )
    date: Entry = Field(
        "", description="Date in the title block.", examples=["2025-03-14"]
    )
    by: Entry = Field(
        "",
        description="Author in the title block.",
        examples=["Process controls group"],
    )
    checked: Entry = Field(
        "", description="Checker in the title block.", examples=["Electrical group"]
    )
    company: Entry = Field(
        "", description="Company in the title block.", examples=["Example Pipeline Co."]
    )
