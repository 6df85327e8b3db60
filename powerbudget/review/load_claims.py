"""Claims about power and energy: what the loads draw, at their terminals or the bus."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from powerbudget.bisection import edge
from powerbudget.errors import Fault
from powerbudget.quantities import count, show
from powerbudget.review import load_measure as dm
from powerbudget.review.claim_tables import DrawClaim, EnergyClaim
from powerbudget.review.draw_range import DrawRange, draw_range
from powerbudget.review.load_measure import Subject
from powerbudget.review.result import Judged, refuse
from powerbudget.review.varied_site import VariedSite
from powerbudget.site.parts import CardPart
from powerbudget.site.reader import Design

BAND_W = (5.0, 20.0)
BAND_SOURCE = (
    "review of 20 to 1000 W sources on gas grids, Energies 15(14), 5065, 2022, "
    "introduction: supervisory load on gas pipelines 5 to 20 W, 120 to 480 Wh/day"
)
STATES = {
    "mean": "average of the highest-load month",
    "loaded": "while on, all channels in use",
    "idle": "no channel in use",
    "maximum": "maximum power",
    "peak": "with the largest inrush",
}
MOST_CARDS = 64


@dataclass(frozen=True)
class Interpretation:
    """One way to read a claim about loads: which cards, which state, which side.

    Parameters
    ----------
    site, subject
        The site, and which of its lines.
    design
        The site with the cards that are meant.
    state, side
        As in `powerbudget.review.load_measure.measure_w` [text].
    cards
        Which cards, empty where the claim names none [text].
    """

    site: VariedSite
    subject: Subject
    design: Design
    state: str
    side: str
    cards: str = ""

    @property
    def name(self) -> str:
        """Conditions in words."""
        place = "at the dc bus" if self.side == "bus" else "at the load terminals"
        return ", ".join(x for x in (self.cards, STATES[self.state], place) if x)

    def watts(self, design: Design, state: str = "") -> float:
        """Draw of a variant of the site, in another state where one is named [W]."""
        return dm.measure_w(design, self.subject, state or self.state, self.side)

    @property
    def sources(self) -> list[str]:
        """Where the figures of its lines come from [text]."""
        sources = {}
        for line in self.site.budget.lines:
            if not self.subject.holds(line):
                continue
            if line.source and line.part:
                sources[f"{line.part} ({line.status}): {line.source}"] = 1
            elif line.kind != "contingency":
                sources[f"{line.name}: {line.source or line.status}"] = 1
        return list(sources)

    @property
    def of_station(self) -> bool:
        """Whether it is the mean of a whole site with a controller."""
        lines = [line for line in self.site.budget.lines if self.subject.holds(line)]
        station = any(line.kind == "controller" for line in lines)
        return self.subject.whole and station and self.state in {"mean", "loaded"}


def _ask_each(
    claim: DrawClaim | EnergyClaim,
    answer: Judged,
    ways: list[Interpretation],
    hours: float,
) -> DrawRange:
    """Ask for each way to read a claim, and for the likely ends of the first one."""
    first = ways[0]
    ends = draw_range(first.design, first.watts)
    for way in ways:
        answer.case(way.name, hours * way.watts(way.design))
    if ends.high - ends.low > 0.002 * abs(ends.typical):
        for word, watts in (("low", ends.low), ("high", ends.high)):
            answer.case(f"parts at their {word} value", hours * watts)
        answer.found_low, answer.found_high = hours * ends.low, hours * ends.high
    _ask_what_is_meant(claim, answer, ways)
    answer.sources += first.sources
    if first.of_station:
        answer.cautions += band_caution((answer.claimed or 0.0) / hours)
    return ends


def _ask_what_is_meant(
    claim: DrawClaim | EnergyClaim, answer: Judged, ways: list[Interpretation]
) -> None:
    """Add what a mixed verdict would need to be told."""
    holds = [case.holds for case in answer.cases]
    by_way, by_end = holds[: len(ways)], holds[len(ways) :]
    draw = claim if isinstance(claim, DrawClaim) else None
    for unsaid, kinds, words in (
        (draw and draw.state is None, [way.state for way in ways],
         "whether the value is an average or includes all channels"),
        (claim.side is None, [way.side for way in ways],
         "whether it is at the terminals or at the dc bus"),
        (draw and isinstance(draw.cards, int), [way.cards for way in ways],
         "which cards"),
    ):  # fmt: skip
        if unsaid and _turns(kinds, by_way):
            answer.missing.append(words)
    if any(held != holds[0] for held in by_end):
        measured = "a measurement" if draw else "a measured day"
        text = f"low, typical, and high power from the manufacturer, or {measured}"
        answer.missing.append(text)


def _turns(kinds: list[str], holds: list[bool]) -> bool:
    """Return whether the verdict hangs on which of several kinds is meant."""
    pairs = list(zip(kinds, holds, strict=True))
    by_kind = {k: tuple(held for kind, held in pairs if kind == k) for k in kinds}
    return len(set(by_kind.values())) > 1


def _sides(
    claim: DrawClaim | EnergyClaim, subject: Subject, site: VariedSite
) -> list[str]:
    """Return on which side of its converters a claim may be meant."""
    if claim.side:
        return [claim.side]
    lines = [line for line in site.budget.lines if subject.holds(line)]
    fed = any(line.supply != "bus" for line in lines if not line.hidden)
    return ["load", "bus"] if fed and not subject.whole else ["bus"]


def judge_draw(claim: DrawClaim, answer: Judged, site: VariedSite) -> None:
    """Ask for the draw at the claim's state and side, and for its likely range."""
    subject, faults = dm.subject_of(claim.of, site.budget.lines)
    refuse(faults + _contradictions(claim, site))
    racks = _racks(claim, site)
    if claim.cards is not None:
        # They are taken in, whatever the claim names.
        names = claim.cards if isinstance(claim.cards, dict) else _card_kinds(site)
        subject = Subject((*subject.names, *names), subject.title)
    answer.claimed = site.watts(claim.claimed, claim.voltage_v)
    ways = [
        Interpretation(site, subject, design, str(state), side, words)
        for design, words in racks
        for state in ([claim.state] if claim.state else _open_states(claim, subject))
        for side in _sides(claim, subject, site)
    ]
    ends = _ask_each(claim, answer, ways, 1.0)
    if claim.cards is not None:
        _ask_cards(claim, answer, ways[0])
    else:
        _ask_channels(answer, ways[0])
    _draw_remarks(claim, answer, ways[0], ends)


def _card_kinds(site: VariedSite) -> list[str]:
    """Return the kinds of card that a bare number of cards may mean [names]."""
    return list(dm.site_cards(site.design)) or ["card-analog-input"]


def _open_states(claim: DrawClaim, subject: Subject) -> list[str]:
    """Return what a claim without a state may mean."""
    if claim.cards is not None:
        return ["loaded"]
    return ["mean", "loaded"] if subject.names != ("hidden",) else ["mean"]


def _racks(claim: DrawClaim, site: VariedSite) -> list[tuple[Design, str]]:
    """Return the site with the cards that the claim names, each way to read it."""
    if claim.cards is None:
        return [(site.design, "")]
    if isinstance(claim.cards, dict):
        sets = [dict(claim.cards)]
    else:
        sets = [{name: int(claim.cards)} for name in _card_kinds(site)]
    return [
        (
            dm.with_cards(site.design, cards),
            " and ".join(f"{count} x {name}" for name, count in cards.items()),
        )
        for cards in sets
    ]


def _contradictions(claim: DrawClaim, site: VariedSite) -> list[Fault]:
    """Return what in a claim cannot be true together."""
    faults = []
    cards, slots = claim.cards, dm.slots_of(site.design)
    number = sum(cards.values()) if isinstance(cards, dict) else cards
    if number is not None and slots is not None and number > slots:
        faults.append(
            Fault("cards", "are more than the slots", f"{number}", f"at most {slots}")
        )
    if isinstance(cards, dict):
        faults += [
            Fault("cards", "is not a card of the parts library", repr(name))
            for name in cards
            if not isinstance(site.design.parts.get(name), CardPart)
        ]
    if cards is not None and "hidden" in claim.of:
        problem = "contradicts cards: parasitic loads have none"
        faults.append(Fault("of", problem, "hidden"))
    if claim.state == "idle" and claim.says and "fully" in claim.says.lower():
        problem = "contradicts the wording of the claim (fully loaded)"
        faults.append(Fault("state", problem, "idle", "loaded or maximum"))
    return faults


def _ask_channels(answer: Judged, way: Interpretation) -> None:
    """Ask how many live channels the claimed figure carries as a mean."""
    cards = dm.site_cards(way.design)
    if not cards or way.state not in {"loaded", "mean"}:
        return
    channels = max(way.design.parts[name].channels for name in cards)  # type: ignore[union-attr]

    def holds(live: float) -> bool:
        return answer.holds(way.watts(dm.with_live(way.design, round(live)), "mean"))

    live = _largest(holds, channels)
    if live is not None and live < channels:
        text = (
            f"as an average true with at most {count(live, 'active channel')} per card"
        )
        answer.turns("channels", float(live), "channels", text)


def _largest(holds: Callable[[float], bool], most: int) -> int | None:
    """Return the largest whole number that still holds, None where 0 does not."""
    if not holds(0):
        return None
    if holds(most):
        return most
    turn = edge(holds, 0.0, float(most))
    return None if turn is None else round(turn)


def _ask_cards(claim: DrawClaim, answer: Judged, way: Interpretation) -> None:
    """Ask what the claimed figure leaves a card, and how many of them it carries."""
    cards = claim.cards
    if isinstance(cards, dict):
        names, number = list(cards), sum(cards.values())
    else:
        names, number = [way.cards.rsplit(" x ", maxsplit=1)[-1]], int(cards or 0)
    bare = way.watts(dm.with_cards(way.design, {}))
    if number:
        each = ((answer.claimed or 0.0) - bare) / number
        words = f"{show(each, 'W')} per card" if each > 0 else "less than zero"
        text = f"the claim leaves {words} for {show(bare, 'W')} without cards"
        answer.turns("card power", each, "W", text)
    if len(names) != 1:
        return
    most = min(dm.slots_of(way.design) or MOST_CARDS, MOST_CARDS)

    def holds(count: float) -> bool:
        design = dm.with_cards(way.design, {names[0]: round(count)})
        return answer.holds(way.watts(design))

    carried = _largest(holds, most)
    if carried is not None:
        limit = "all" if carried >= most else "at most"
        text = f"true for {limit} {carried} of {names[0]} at typical power"
        answer.turns("cards", float(carried), "cards", text)


def _draw_remarks(
    claim: DrawClaim, answer: Judged, way: Interpretation, ends: DrawRange
) -> None:
    if ends.highest - ends.lowest > 0.01 * abs(ends.typical):
        answer.remarks.append(
            f"parts range from {show(ends.lowest, 'W')} to {show(ends.highest, 'W')}, "
            f"low to high {show(ends.low, 'W')} to {show(ends.high, 'W')}"
        )
    idle = way.watts(way.design, "idle")
    ratio = (answer.claimed or 0.0) / max(idle, 1e-9)
    if way.state in {"loaded", "maximum"} and 0.9 <= ratio <= 1.1:
        answer.remarks.append(
            f"the stated value is the power with no channel in use: {show(idle, 'W')}"
        )
    if claim.claimed[0] == "A":
        volts = claim.voltage_v or way.site.volts
        answer.remarks.append(f"ampere value at {show(volts, 'V')}")
    margin = way.site.margin
    if way.subject.whole and margin > 1:
        answer.remarks.append(
            f"with the site contingency: {show(ends.typical * margin, 'W')}"
        )


def band_caution(watts: float) -> tuple[str, ...]:
    """Return a caution for a remote-terminal site outside 5 to 20 W [text].

    References
    ----------
    Energies 15(14), 5065, 2022, introduction: 5 to 20 W, 120 to 480 Wh/day.
    """
    low, high = BAND_W
    if low <= watts <= high:
        return ()
    side = "under" if watts < low else "over"
    return (
        f"{show(watts, 'W')} is {side} the {low:g} to {high:g} W of such sites ({BAND_SOURCE}): "
        "request a measured day",
    )


def judge_energy(claim: EnergyClaim, answer: Judged, site: VariedSite) -> None:
    """Ask for the Wh a day of the highest-load month, contingency left out."""
    subject, faults = dm.subject_of(claim.of, site.budget.lines)
    refuse(faults)
    answer.claimed = site.watts(claim.claimed, claim.voltage_v)
    ways = [
        Interpretation(site, subject, site.design, "mean", side)
        for side in _sides(claim, subject, site)[::-1]
    ]
    ends = _ask_each(claim, answer, ways, 24.0)
    watts = answer.claimed / 24
    spare = watts - ends.typical
    sense = "more" if spare >= 0 else "less"
    text = (
        f"true for an average load of {show(watts, 'W')}: {show(abs(spare), 'W')} "
        f"{sense} than calculated"
    )
    answer.turns("load", watts, "W", text)
    if subject.whole:
        hidden = 24 * site.budget.hidden_w
        listed = 24 * ends.typical - hidden
        answer.remarks.append(
            f"the equipment list totals {show(listed, 'Wh/day')}; converters, wiring, "
            f"charge controller, and leakage add {show(hidden, 'Wh/day')}"
        )
    if subject.whole and site.margin > 1:
        answer.remarks.append(
            "with the site contingency "
            f"{show(24 * ends.typical * site.margin, 'Wh/day')}; size for this"
        )
    if claim.claimed[0] == "Ah":
        volts = claim.voltage_v or site.volts
        answer.remarks.append(
            f"{show(claim.claimed[1], 'Ah')} at {show(volts, 'V')} = "
            f"{show(answer.claimed, 'Wh')}"
        )
