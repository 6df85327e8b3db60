"""Sources of power on equal terms: one load, one sky, one set of criteria."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from powerbudget.compare.alternative import Option, cold_words, outside
from powerbudget.compare.break_even import Turn, find_turns, sized_turns
from powerbudget.compare.emissions import vented_ch4_kg
from powerbudget.compare.lifecycle import GROUPS, Terms
from powerbudget.compare.priced_site import PricedSite
from powerbudget.compare.prices import PriceBook
from powerbudget.compare.robustness import robustness_findings
from powerbudget.compare.sized import Progress, panelled, sized_options
from powerbudget.errors import Finding
from powerbudget.quantities import in_unit, money, plain
from powerbudget.site.prices import PricedAssumption
from powerbudget.site.reader import Design
from powerbudget.sizing.autonomy import needs_current
from powerbudget.sizing.other_controller import OtherController


@dataclass(frozen=True)
class Comparison:
    """Options side by side.

    Parameters
    ----------
    site
        Name of the site [text].
    options
        Those that meet the criteria by rising life-cycle cost, then the others.
    terms
        Prices a year, rate, horizon and convention.
    currency
        Of every sum [text].
    assumptions
        Every price that the options rest on.
    turns
        Where the ranking turns.
    findings
        What a careful colleague would point out.
    load_w
        Mean load of the heaviest month at the bus [W].
    heater_w
        Battery heater beside it, mean of the record [W].
    years
        Length of the record [year].
    gwp
        Which warming potentials [text].
    resized
        Whether load and days of autonomy are among the turns.
    """

    site: str
    options: tuple[Option, ...]
    terms: Terms
    currency: str
    assumptions: tuple[PricedAssumption, ...]
    turns: tuple[Turn, ...]
    findings: tuple[Finding, ...]
    load_w: float
    heater_w: float
    years: float
    gwp: str
    resized: bool = False

    @property
    def best(self) -> Option | None:
        """Cheapest option that meets every criterion."""
        return next((option for option in self.options if option.met), None)

    @property
    def why(self) -> str:
        """Return why the first stands before the second, and where it turns [text]."""
        return " ".join(filter(None, [why_words(self), turning_words(self.turns)]))


def compare(
    design: Design,
    progress: Progress | None = None,
    *,
    turns: bool = True,
    break_even: bool = False,
) -> Comparison:
    """Compare sources of power for a site on equal terms.

    Parameters
    ----------
    design
        A checked site; its ``[compare]`` table chooses options, ``[costs]`` prices.
    progress
        Called with options done, options in all and what comes next [count, text].
    turns
        Whether to look for the prices at which the ranking turns.
    break_even
        Whether to size every option again at other loads and days of autonomy, until
        another one comes first: ten to twenty times the work.

    Returns
    -------
    Comparison
        Each option sized to the same criteria and simulated through the same kernel
        over the whole record.

    Raises
    ------
    InputError, DataError
        When the site cannot be simulated, or prices in two currencies would be
        mixed.

    Notes
    -----
    Every criterion is asked of every option, but for the array-to-load ratio, which
    means nothing beside a generator.  A site file may ask fewer days of autonomy of a
    bank beside fuel or a line (``autonomy_with_fuel``); the comparison then says so.
    """
    problem = panelled(design)
    needs_current(problem)
    site, options, terms, other = sized_options(design.tables, problem, progress)
    found_turns: list[Turn] = []
    if turns:
        found_turns = find_turns(options, terms, site.book.currency)
    if break_even and options[0].met:
        found_turns += sized_turns(design, problem, site, options, progress)
    shown = _shown(site.book, options)
    sure = [*_controller_findings(options, other)]
    sure += robustness_findings(found_turns, shown, options[0].title)
    tables = problem.design.tables
    return Comparison(
        site=tables.site.name,
        options=tuple(options),
        terms=terms,
        currency=site.book.currency,
        assumptions=shown,
        turns=tuple(found_turns),
        resized=break_even,
        findings=(*sure, *_findings(site, design, options, terms)),
        load_w=site.load_w,
        heater_w=float(problem.conditions.heater_w.mean()),
        years=problem.record.years,
        gwp=tables.compare.gwp if tables.compare else "AR5",
    )


def _shown(book: PriceBook, options: list[Option]) -> tuple[PricedAssumption, ...]:
    """Return the prices that some option uses, fuels that none burns left out."""
    burnt = {option.fuel.replace("-", "_") for option in options}
    return tuple(
        used
        for key, used in sorted(book.used.items())
        if not key.startswith("costs.fuel.") or key.removeprefix("costs.fuel.") in burnt
    )


def why_words(result: Comparison) -> str:
    """Return why the first option stands before the second [text].

    Returns
    -------
    str
        What it saves and what it costs more, largest first.
    """
    met = [option for option in result.options if option.met]
    if not met:
        return "No alternative passes every criterion."
    best = met[0]
    if len(met) == 1:
        return f"Only {best.title} passes every criterion."
    second = met[1]
    gaps = _gaps(second, best)
    saved, more = (
        ", ".join(
            f"{name} {money(abs(gap), result.currency)}"
            for name, gap in gaps
            if sign * gap > 0
        )
        for sign in (1, -1)
    )
    total = second.life_cycle_cost - best.life_cycle_cost
    title = f"{best.title[:1].upper()}{best.title[1:]}"
    text = (
        f"{title} costs {money(total, result.currency)} less "
        f"over {result.terms.horizon_y} yr than {second.title}."
    )
    text += f" {title} saves {saved}." if saved else ""
    return f"{text} {title} adds {more}." if more else text


def turning_words(turns: tuple[Turn, ...]) -> str:
    """Return in a sentence where the ranking turns [text].

    Parameters
    ----------
    turns
        From `powerbudget.compare.break_even.find_turns`.

    Returns
    -------
    str
        The turns nearest to today's values first, by ratio; those that never turn.
    """
    if not turns:
        return ""
    found = [turn for turn in turns if turn.turns_at is not None]
    never = [turn.name for turn in turns if turn.turns_at is None]
    words = [
        f"{turn.name} {'above' if (turn.turns_at or 0) > turn.today else 'below'} "
        f"{plain(turn.turns_at or 0.0)} {turn.unit} (input {plain(turn.today)}): "
        f"{turn.takes_over}"
        for turn in sorted(found, key=_nearness)
    ]
    text = f"Break-even values: {'; '.join(words)}. " if words else ""
    if never:
        text += f"No break-even in range: {', '.join(never)}."
    return text.strip()


def _nearness(turn: Turn) -> float:
    at = turn.turns_at or 0.0
    if at > 0 and turn.today > 0:
        return max(at / turn.today, turn.today / at)
    return math.inf


def _gaps(second: Option, best: Option) -> list[tuple[str, float]]:
    """Return differences by group that matter, largest first."""
    if second.cost is None or best.cost is None:
        return []
    gaps = [(n, second.cost.groups[n] - best.cost.groups[n]) for n in GROUPS]
    total = abs(second.cost.total - best.cost.total)
    floor = max(0.15 * total, 0.01 * second.cost.total)
    kept = [(name, gap) for name, gap in gaps if abs(gap) >= floor]
    return sorted(kept, key=lambda item: -abs(item[1]))[:5]


def _findings(
    site: PricedSite, design: Design, options: list[Option], terms: Terms
) -> list[Finding]:
    """Return what a careful colleague would point out."""
    found: list[Finding] = []
    tables = design.tables
    if site.problem.record.typical_year:
        found.append(
            Finding(
                "warning",
                "Typical year: contains no extreme winter. PV alternatives need larger "
                "sizes in an extreme winter.",
            )
        )
    paneled = [o.trial.run.problem for o in options if o.trial and o.trial.strings]
    if tables.array.parallel == 0 and paneled:
        tilt_deg = paneled[0].design.tables.array.tilt_deg
        found.append(
            Finding("note", "The site file has no array. PV alternatives use 100 W modules, tilt "
f"{tilt_deg:g}°.")
        )  # fmt: skip
    found += _autonomy_note(site)
    found += _close_call(options, terms)
    found += _vented(tables)
    found.append(
        Finding("note", "CO2 equivalent (CO2e) counts fuel burned on site and, with a "
                "utility line, its energy. "
"Manufacture, fuel delivery, and visits are not included.")
    )  # fmt: skip
    found.append(
        Finding("note", "Codes apply to fuel, burners, and batteries near wells and pipelines "
"(area classification, fuel storage, hydrogen). A licensed person "
"decides.")
    )  # fmt: skip
    return found


def _controller_findings(
    options: list[Option], other: OtherController | None
) -> list[Finding]:
    """Say which alternatives have another controller, and which one a key holds back."""
    found = []
    if other is not None:
        words = (
            f"Alternatives with PV have {other.named}: its {other.stated} is too low."
        )
        found.append(Finding("serious", f"{words} The specified site keeps it."))
    held: dict[str, list[str]] = {}
    for option in options:
        if option.held_back:
            held.setdefault(option.held_back, []).append(option.title)
    for why, titles in held.items():
        text = f"Ranking not robust, {', '.join(titles)}: {why}."
        found.append(Finding("serious", text))
    for option in options:
        if option.met and option.trial and (out := outside(option.trial)):
            text = f"{option.title} passes outside the limits of [sizing] only: {out}."
            # Most of them stand in for a source that the cold stops.
            if cold := cold_words(option.trial):
                text += f" Supplied by the battery: {cold}."
            found.append(Finding("warning", text[:1].upper() + text[1:]))
    return found


def _autonomy_note(site: PricedSite) -> list[Finding]:
    asked, fuelled = site.criteria.autonomy_d, site.fuelled_d
    if fuelled >= asked:
        return []
    return [
        Finding("warning", f"Criteria differ: autonomy {asked:g} d for PV alone, {fuelled:g} d for "
"alternatives with fuel or a utility line (`autonomy_with_fuel` in "
"[compare]).")
    ]  # fmt: skip


def _close_call(options: list[Option], terms: Terms) -> list[Finding]:
    met = [option for option in options if option.met]
    if len(met) < 2:
        return []
    first, second = met[0].life_cycle_cost, met[1].life_cycle_cost
    if first <= 0 or second / first > 1.15:
        return []
    return [
        Finding("warning", f"{met[0].title} and {met[1].title} are within "
f"{in_unit(100 * (second / first - 1), '%')} over {terms.horizon_y} yr, less than "
"the uncertainty of the prices. Decide on fuel, visits, and emissions.")
    ]  # fmt: skip


def _vented(tables: Any) -> list[Finding]:
    """Say what gas-driven devices vent that electric ones would not."""
    devices = tables.compare.gas_driven if tables.compare else None
    if devices is None:
        return []
    kinds = ("low_bleed", "intermittent", "high_bleed", "pump")
    given = [(kind.replace("_", "-"), getattr(devices, kind)) for kind in kinds]
    kept = [(kind, number) for kind, number in given if number]
    total = sum(vented_ch4_kg(number, kind) for kind, number in kept)
    names = ", ".join(f"{number} {kind}" for kind, number in kept)
    return [
        Finding("note", f"Gas-driven devices that electric ones could replace ({names}) vent "
f"about {in_unit(total, 'kg/yr')} of CH4 (40 CFR 98 Table W-1). No alternative "
"is credited: each would run electric devices.")
    ]  # fmt: skip
