"""A vendor's claims against a site: each judged, none stopped by another."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from powerbudget.errors import (
    DataError,
    Fault,
    Finding,
    InputError,
    ModelRangeError,
)
from powerbudget.quantities import count, in_unit, plain
from powerbudget.review.claim_tables import ArrayClaim, Claim, FuelClaim
from powerbudget.review.claims_file import ClaimEntry, ClaimsFile, read_claims
from powerbudget.review.kinds import KINDS
from powerbudget.review.result import Judged, Review, conclude, refuse
from powerbudget.review.varied_site import VariedSite
from powerbudget.review.wording import wording_faults
from powerbudget.site.reader import Design


def review(design: Design | None, claims: ClaimsFile | str | Path) -> Review:
    """Judge a vendor's claims against a site.

    Parameters
    ----------
    design
        A checked site; None judges by plain arithmetic as far as that goes.
    claims
        Claims, or the path of a claims file.

    Returns
    -------
    Review
        Every claim with what was found, verdict, margin and condition.

    Raises
    ------
    InputError
        When the claims file cannot be read, or none of its claims can be judged.
    """
    file = claims if isinstance(claims, ClaimsFile) else read_claims(claims)
    site = VariedSite(design) if design is not None else None
    judged = tuple(_judge(entry, site) for entry in file.entries)
    if not any(item.usable for item in judged):
        where = str(file.path or "claims")
        faults = [replace(f, file=where) for item in judged for f in item.problems]
        raise InputError(faults)
    return Review(
        design.tables.site.name if design else "",
        file.vendor,
        file.document,
        judged,
        (*file.findings, *_findings(site)),
    )


def _findings(site: VariedSite | None) -> tuple[Finding, ...]:
    if site is None:
        text = "no site file: arithmetic, physics, and the values of the claims only"
        return (Finding("note", text),)
    share = site.budget.doubtful_frac
    if share < 0.5:
        return ()
    return (
        Finding(
            "warning",
            f"Data quality: {in_unit(100 * share, '%')} of the load energy comes from "
            "unverified or assumed figures. Request data sheets and a measured day",
        ),
    )


def _judge(entry: ClaimEntry, site: VariedSite | None) -> Judged:
    """Return one claim judged; whatever stops it is said as its own problem."""
    title, faults = _title(entry), entry.faults
    if entry.claim is not None:
        answer = Judged(entry.number, entry.kind, title)
        try:
            refuse(wording_faults(entry.claim))
            _ask(entry.claim, answer, site)
            return conclude(answer)
        except InputError as exc:
            faults = exc.faults
        except (DataError, ModelRangeError) as exc:
            faults = (Fault("claim", str(exc)),)
    where = f"claim[{entry.number}]"
    named = tuple(
        f if f.where.startswith("claim[") else replace(f, where=f"{where}.{f.where}")
        for f in faults
    )
    text = "the claim as written is unusable: " + "; ".join(f.problem for f in named)
    unusable = Judged(entry.number, entry.kind, title, condition=text, problems=named)
    return conclude(unusable)


def _ask(claim: Claim, answer: Judged, site: VariedSite | None) -> None:
    """Ask what the row of its kind asks for a claim."""
    kind = KINDS[answer.kind]
    if site is None and kind.bare is not None:
        kind.bare(claim, answer)
        return
    if kind.panels and site is not None and not site.array_w:
        problem = "concerns the array, and the site has none"
        allowed = "a site file with an [array]"
        refuse([Fault("kind", problem, answer.kind, allowed)])
    unit, answer.claimed = claim.stated() or ("", None)
    answer.unit, answer.sense = kind.unit or unit, kind.sense
    kind.judge(claim, answer, site)


def _title(entry: ClaimEntry) -> str:
    """Return a claim in words: the vendor's, or its kind and figure."""
    claim = entry.claim
    if entry.says and claim is not None and claim.says:
        return entry.says
    words = KINDS[entry.kind].words if entry.kind in KINDS else "claim"
    if claim is None:
        return f"{words}: {entry.says}" if entry.says else f"{words} no. {entry.number}"
    of = getattr(claim, "of", ())
    subject = f" ({', '.join(of)})" if of and of != ("site",) else ""
    return f"{words}{subject}: {_figure(claim)}"


def _figure(claim: Claim) -> str:
    """Return the claimed figure with its unit [text]."""
    if isinstance(claim, FuelClaim):
        return str(claim.claimed.written)
    unit, value = claim.stated() or ("", 0.0)
    if unit == "fraction":
        return plain(100 * value, 6, "%")
    if isinstance(claim, ArrayClaim) and not unit:
        return count(claim.modules or 0, "module")
    return f"{value:g} {unit}"
