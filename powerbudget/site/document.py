"""The table `[document]`: what stands in the title block of the calculation package."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from powerbudget.site.fields import Line, Strict

Entry = Annotated[Line, Field(max_length=80)]


class Document(Strict):
    """Number, revision and people of a calculation package."""

    number: Entry = ""
    revision: Entry = ""
    date: Entry = ""
    by: Entry = ""
    checked: Entry = ""
    company: Entry = ""
