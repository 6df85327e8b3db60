"""Claims about power and energy: what the loads draw, at their terminals or the bus."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from powerbudget.errors import Fault
from powerbudget.quantities import show
from powerbudget.review import load_measure as dm
from powerbudget.review.claim_tables import DrawClaim, EnergyClaim
from powerbudget.review.load_measure import Subject
from powerbudget.review.result import Case, Judged, Solved, conclude, meets
from powerbudget.review.solve import edge
from powerbudget.review.spread import Spread, spread
from powerbudget.review.variants import Desk
from powerbudget.site.parts import CardPart
from powerbudget.site.reader import Design

BAND_W = (5.0, 20.0)
BAND_SOURCE = (
    "review of 20 to 1000 W sources on gas grids, Energies 15(14), 5065, 2022, "
    "introduction: supervisory load on gas pipelines 5 to 20 W, 120 to 480 Wh/day"
)
STATES = {
    "mean": "mean of the heaviest month",
    "loaded": "while on, every channel live",
    "idle": "no channel live",
    "maximum": "highest lasting draw",
    "peak": "with the largest single inrush",
}
MOST_CARDS = 64
_END = "parts at their likely {} end"


def judge_draw(claim: DrawClaim, blank: Judged, desk: Desk) -> Judged:
    """Return a claim about power or current, judged.

    Parameters
    ----------
    claim, blank
        The claim, and its result so far.
    desk
        The site.

    Returns
    -------
    Judged
        Found at the claim's state and side, with the likely range of the parts.
    """
    subject, faults = dm.subject_of(claim.of, desk.budget.lines)
    faults += _contradictions(claim, desk)
    if faults:
        return replace(blank, problems=tuple(faults))
    if claim.cards is not None:
        subject = _with_cards(subject, claim, desk)
    unit, value = claim.claimed
    claimed_w = value if unit == "W" else value * (claim.voltage_v or desk.volts)
    blank = replace(blank, claimed=claimed_w, unit="W", sense="at most")
    states = [claim.state] if claim.state else _open_states(claim, subject)
    sides = [claim.side] if claim.side else _open_sides(subject, desk)
    looks = [
        _Look(desk, subject, design, str(state), str(side), words)
        for design, words in _racks(claim, desk)
        for state in states
        for side in sides
    ]
    return _draw_result(claim, blank, looks)


@dataclass(frozen=True)
class _Look:
    """One way to read a draw claim: which rack, which state, which side."""

    desk: Desk
    subject: Subject
    design: Design
    state: str
    side: str
    words: str = ""

    @property
    def name(self) -> str:
        """Conditions in words."""
        place = "at the bus" if self.side == "bus" else "at its terminals"
        return ", ".join(x for x in (self.words, STATES[self.state], place) if x)

    def watts(self, design: Design) -> float:
        """Draw of a variant of the site [W]."""
        return dm.measure_w(design, self.subject, self.state, self.side)

    def spread(self) -> Spread:
        """Draw with its range [W]."""
        return spread(self.design, self.watts)


def _with_cards(subject: Subject, claim: DrawClaim, desk: Desk) -> Subject:
    """Return a subject that takes the claim's cards in, whatever it names."""
    cards = claim.cards if isinstance(claim.cards, dict) else _card_kinds(desk)
    return Subject((*subject.names, *cards), subject.title)


def _card_kinds(desk: Desk) -> list[str]:
    """Return the kinds of card that a bare number of cards may mean [names]."""
    return list(dm.site_cards(desk.design)) or ["card-analog-input"]


def _open_states(claim: DrawClaim, subject: Subject) -> list[str]:
    """Return what a claim without a state may mean."""
    if claim.cards is not None:
        return ["loaded"]
    return ["mean", "loaded"] if subject.names != ("hidden",) else ["mean"]


def _open_sides(subject: Subject, desk: Desk) -> list[str]:
    if subject.whole:
        return ["bus"]
    lines = [line for line in desk.budget.lines if subject.holds(line)]
    fed = any(line.supply != "bus" for line in lines if not line.hidden)
    return ["load", "bus"] if fed else ["bus"]


def _racks(claim: DrawClaim, desk: Desk) -> list[tuple[Design, str]]:
    """Return the site with the cards that the claim names, each way to read it."""
    if claim.cards is None:
        return [(desk.design, "")]
    if isinstance(claim.cards, dict):
        words = " and ".join(f"{n} x {name}" for name, n in claim.cards.items())
        return [(dm.with_cards(desk.design, dict(claim.cards)), words)]
    number = int(claim.cards)
    return [
        (dm.with_cards(desk.design, {name: number}), f"{number} x {name}")
        for name in _card_kinds(desk)
    ]


def _contradictions(claim: DrawClaim, desk: Desk) -> list[Fault]:
    """Return what in a claim cannot be true together."""
    faults = []
    cards = claim.cards
    number = sum(cards.values()) if isinstance(cards, dict) else cards
    slots = dm.slots_of(desk.design)
    if number is not None and slots is not None and number > slots:
        faults.append(
            Fault("cards", "are more than the slots", f"{number}", f"at most {slots}")
        )
    if isinstance(cards, dict):
        faults += [
            Fault("cards", "is not a card of the parts library", repr(name))
            for name in cards
            if not isinstance(desk.design.parts.get(name), CardPart)
        ]
    if cards is not None and "hidden" in claim.of:
        problem = "contradicts cards: hidden loads have none"
        faults.append(Fault("of", problem, "hidden"))
    if claim.state == "idle" and claim.says and "fully" in claim.says.lower():
        problem = "contradicts the claim's own words, which say fully loaded"
        faults.append(Fault("state", problem, "idle", "loaded or maximum"))
    return faults


def _draw_result(claim: DrawClaim, blank: Judged, looks: list[_Look]) -> Judged:
    claimed = blank.claimed or 0.0
    first = looks[0]
    ends = first.spread()
    cases = [_case(claimed, look.name, look.watts(look.design)) for look in looks]
    exact = ends.high - ends.low <= 0.002 * abs(ends.typical)
    if not exact:
        for word, value in (("low", ends.low), ("high", ends.high)):
            cases.append(_case(claimed, _END.format(word), value))
    missing = _draw_missing(claim, cases, looks)
    done = replace(
        blank,
        cases=tuple(cases),
        found_low=None if exact else ends.low,
        found_high=None if exact else ends.high,
        missing=tuple(missing),
        solved=tuple(_draw_solved(claim, blank, first)),
        remarks=tuple(_draw_remarks(claim, blank, looks, ends)),
        sources=_sources(first),
        cautions=_band_caution(claimed, first),
    )
    return conclude(done)


def _case(claimed: float, name: str, found: float) -> Case:
    return Case(name, found, meets(claimed, found, "at most"))


def _draw_missing(claim: DrawClaim, cases: list[Case], looks: list[_Look]) -> list[str]:
    """Return what a mixed verdict would need to be told."""
    if len({case.holds for case in cases}) < 2:
        return []
    found = []
    by_look = [case.holds for case in cases[: len(looks)]]
    if claim.state is None and _turns([look.state for look in looks], by_look):
        found.append("whether the figure is a mean or the draw with every channel live")
    if claim.side is None and _turns([look.side for look in looks], by_look):
        found.append("whether it is at the terminals or at the bus")
    if isinstance(claim.cards, int) and _turns([look.words for look in looks], by_look):
        found.append("which cards")
    by_end = [case.holds for case in cases if case.name.startswith("parts at")]
    if by_end and len({cases[0].holds, *by_end}) > 1:
        found.append("the maker's own low, typical and high draw, or a measurement")
    return found


def _turns(kinds: list[str], holds: list[bool]) -> bool:
    """Return whether the verdict hangs on which of several kinds is meant."""
    by_kind = {
        k: [h for own, h in zip(kinds, holds, strict=True) if own == k] for k in kinds
    }
    return len({tuple(found) for found in by_kind.values()}) > 1


def _draw_solved(claim: DrawClaim, blank: Judged, look: _Look) -> list[Solved]:
    """Return how many cards or live channels the claimed figure carries."""
    claimed = blank.claimed or 0.0
    if claim.cards is not None:
        return _cards_solved(claim, claimed, look)
    cards = dm.site_cards(look.design)
    if not cards or look.state not in {"loaded", "mean"}:
        return []
    channels = max(look.design.parts[name].channels for name in cards)  # type: ignore[union-attr]

    def holds(live: float) -> bool:
        design = dm.with_live(look.design, round(live))
        watts = dm.measure_w(design, look.subject, "mean", look.side)
        return meets(claimed, watts, "at most")

    live = _largest(holds, channels)
    if live is None or live >= channels:
        return []
    text = f"as a mean it holds with at most {live} live channels on each card"
    return [Solved("channels", float(live), "channels", text)]


def _largest(holds: Callable[[float], bool], most: int) -> int | None:
    """Return the largest whole number that still holds, None where 0 does not."""
    if not holds(0):
        return None
    if holds(most):
        return most
    turn = edge(holds, 0.0, float(most))
    return None if turn is None else round(turn)


def _cards_solved(claim: DrawClaim, claimed: float, look: _Look) -> list[Solved]:
    names = (
        list(claim.cards)
        if isinstance(claim.cards, dict)
        else [look.words.rsplit(" x ", maxsplit=1)[-1]]
    )
    asked = claim.cards
    number = sum(asked.values()) if isinstance(asked, dict) else int(asked or 0)
    found = []
    bare = look.watts(dm.with_cards(look.design, {}))
    if number:
        each = (claimed - bare) / number
        words = f"{show(each, 'W')} a card" if each > 0 else "less than nothing"
        found.append(
            Solved(
                "card draw",
                each,
                "W",
                f"the claim leaves {words} beside {show(bare, 'W')} without cards",
            )
        )
    if len(names) == 1:
        most = min(dm.slots_of(look.design) or MOST_CARDS, MOST_CARDS)

        def holds(count: float) -> bool:
            design = dm.with_cards(look.design, {names[0]: round(count)})
            return meets(claimed, look.watts(design), "at most")

        cards = _largest(holds, most)
        if cards is not None:
            limit = "all" if cards >= most else "at most"
            found.append(
                Solved("cards", float(cards), "cards", f"it holds for {limit} {cards} "
                       f"of {names[0]} at typical draw")
            )  # fmt: skip
    return found


def _draw_remarks(
    claim: DrawClaim, blank: Judged, looks: list[_Look], ends: Spread
) -> list[str]:
    claimed, first = blank.claimed or 0.0, looks[0]
    found = []
    if ends.highest - ends.lowest > 0.01 * abs(ends.typical):
        found.append(
            f"parts leave {show(ends.lowest, 'W')} to {show(ends.highest, 'W')} at their "
            f"ends, likely {show(ends.low, 'W')} to {show(ends.high, 'W')}"
        )
    idle = dm.measure_w(first.design, first.subject, "idle", first.side)
    if first.state in {"loaded", "maximum"} and 0.9 <= claimed / max(idle, 1e-9) <= 1.1:
        found.append(
            f"the claimed figure is what it draws with no channel live: {show(idle, 'W')}"
        )
    if claim.claimed[0] == "A":
        volts = claim.voltage_v or first.desk.volts
        found.append(f"amperes counted at {show(volts, 'V')}")
    margin = first.desk.margin
    if first.subject.whole and margin > 1:
        found.append(
            f"the site's contingency makes it {show(ends.typical * margin, 'W')}"
        )
    return found


def _sources(look: _Look) -> tuple[str, ...]:
    lines = [line for line in look.desk.budget.lines if look.subject.holds(line)]
    found = []
    for line in lines:
        if line.source and line.part:
            found.append(f"{line.part} ({line.status}): {line.source}")
        elif line.kind != "contingency":
            found.append(f"{line.name}: {line.source or line.status}")
    return tuple(dict.fromkeys(found))


def _band_caution(claimed: float, look: _Look) -> tuple[str, ...]:
    """Return a caution where a claim for a whole site lies outside what is usual."""
    lines = [line for line in look.desk.budget.lines if look.subject.holds(line)]
    station = any(line.kind == "controller" for line in lines)
    if not look.subject.whole or not station or look.state not in {"mean", "loaded"}:
        return ()
    return band_caution(claimed)


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
        f"{show(watts, 'W')} is {side} the {low:g} to {high:g} W that such sites draw "
        f"({BAND_SOURCE}): ask for a measured day",
    )


def judge_energy(claim: EnergyClaim, blank: Judged, desk: Desk) -> Judged:
    """Return a claim about energy a day, judged.

    Parameters
    ----------
    claim, blank
        The claim, and its result so far.
    desk
        The site.

    Returns
    -------
    Judged
        In Wh a day of the heaviest month, contingency left out.
    """
    subject, faults = dm.subject_of(claim.of, desk.budget.lines)
    if faults:
        return replace(blank, problems=tuple(faults))
    unit, value = claim.claimed
    volts = claim.voltage_v or desk.volts
    claimed = value * volts if unit == "Ah" else value
    blank = replace(blank, claimed=claimed, unit="Wh/day", sense="at most")
    sides = [claim.side] if claim.side else _open_sides(subject, desk)[::-1]
    looks = [_Look(desk, subject, desk.design, "mean", str(s)) for s in sides]
    ends = looks[0].spread()
    cases = [_case(claimed, look.name, 24 * look.watts(desk.design)) for look in looks]
    exact = ends.high - ends.low <= 0.002 * ends.typical
    for word, watts in (("low", ends.low), ("high", ends.high)) if not exact else ():
        cases.append(_case(claimed, _END.format(word), 24 * watts))
    spare = claimed / 24 - ends.typical
    text = f"it turns at a mean of {show(claimed / 24, 'W')}: {show(abs(spare), 'W')} "
    text += "more than found" if spare >= 0 else "less than found"
    done = replace(
        blank,
        cases=tuple(cases),
        found_low=None if exact else 24 * ends.low,
        found_high=None if exact else 24 * ends.high,
        missing=tuple(_energy_missing(claim, cases, looks)),
        solved=(Solved("load", claimed / 24, "W", text),),
        remarks=tuple(_energy_remarks(claim, looks, ends, volts)),
        sources=_sources(looks[0]),
        cautions=_band_caution(claimed / 24, looks[0]),
    )
    return conclude(done)


def _energy_missing(
    claim: EnergyClaim, cases: list[Case], looks: list[_Look]
) -> list[str]:
    if len({case.holds for case in cases}) < 2:
        return []
    found = []
    if claim.side is None and len(looks) > 1 and cases[0].holds != cases[1].holds:
        found.append("whether it is at the terminals or at the bus")
    if any(case.holds != cases[0].holds for case in cases[len(looks) :]):
        found.append("the maker's own low, typical and high draw, or a measured day")
    return found


def _energy_remarks(
    claim: EnergyClaim, looks: list[_Look], ends: Spread, volts: float
) -> list[str]:
    desk = looks[0].desk
    found = []
    if looks[0].subject.whole:
        hidden = 24 * desk.budget.hidden_w
        listed = 24 * ends.typical - hidden
        found.append(
            f"the equipment list alone adds up to {show(listed, 'Wh/day')}; converters, "
            f"wiring, regulator and leakage add {show(hidden, 'Wh/day')}"
        )
        if desk.margin > 1:
            found.append(
                "with the site's contingency it is "
                f"{show(24 * ends.typical * desk.margin, 'Wh/day')}, the figure to size for"
            )
    if claim.claimed[0] == "Ah":
        found.append(
            f"{show(claim.claimed[1], 'Ah')} counted at {show(volts, 'V')} are "
            f"{show(claim.claimed[1] * volts, 'Wh')}"
        )
    return found
