"""A second look at rows that were read: figures and words that nothing was made of.

The first reading goes by columns.  This one goes by what stands there: every text of a
live row, rows that restate others, and every line outside of the tables.  What bears on
watts, pieces, time or scope and was neither read nor asked is asked here.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import accumulate

from powerbudget.lists.cells import ClientSheet, Row
from powerbudget.lists.columns import Columns, ListColumn
from powerbudget.lists.figures import cell_number, draws_in, figure, on_share
from powerbudget.lists.found import FoundPart, Import
from powerbudget.lists.heads import UNITS, spelt
from powerbudget.lists.io_status import OUT
from powerbudget.lists.questions import Questions
from powerbudget.lists.row_cells import cell_at, text_of
from powerbudget.lists.rows import ListedLoad, ListLine
from powerbudget.lists.schedule_rows import ScheduleResult
from powerbudget.lists.schedule_words import (
    CONVERTS,
    OPEN_NOTE,
    RESULTS,
    SOURCES,
    SWITCHED,
)
from powerbudget.lists.signals import (
    Reading,
    fails_to,
    read_signal,
    read_state,
    read_supply,
)
from powerbudget.lists.status import mark_in, row_status
from powerbudget.lists.unread import left_alone
from powerbudget.lists.words import bare_letters, concepts, known, word_set, words_of

_ABSENT = (
    r"n\.?i\.?c\.?|future|futur[oae]?|planned|option(?:al|s|en)?|opcional(?:es)?|"
    r"by (?:\w+ )?(?:others?|client|owner|vendor|contractor|customer|supplier)|bauseits|"
    r"por otros|"
    r"par d.autres|not in (?:contract|scope|use|this|present)|"
    r"not (?:included|supplied|fitted|installed|used)|excluded|out of (?:scope|service)|"
    r"fuera de servicio|provisional|ph(?:ase)?[ .-]*(?:[2-9]|ii+|iv|two|three)|n[./]?r\b\.?|"
    r"relocat\w+|moved to|transfer(?:red)? to|replaced by|mothballed|disconnected|"
    r"decommissioned|abandoned|demolish(?:ed)?|dismantled|retired|superseded|deferred|"
    r"by (?:skid|package|equipment|system|pump|compressor|site|other|third part)[\w ]{0,20}|"
    r"(?:vendor|package|skid)(?:'s)? (?:scope|supply|supplied|package|panel)|"
    r"part of (?:the )?(?:skid|package|vendor)|hired|on loan|rental|"
    r"par (?:d.autres|le client|le fournisseur)|por (?:el )?(?:cliente|proveedor|outros)|"
    r"hors (?:service|fourniture)|ausser betrieb|durch (?:andere|kunde)|beistellung|"
    r"nicht enthalten|zukunftig\w*|geplant\w*|provision for|"
    r"not (?:on|from|fed by|fed from) (?:the |this |our )?(?:battery|bus|system|dc|plant)|"
    r"(?:own|separate|dedicated|integral|internal|built[- ]in) (?:solar|pv|batter)\w*|"
    r"(?:battery|solar)[- ]powered"
)
_OTHERS = (
    r"^(?:others?|vendor|client|owner|customer|contractor|supplier|bauherr|cliente)$"
)
"""A cell that only says whose a device is."""
SCOPE = re.compile(
    rf"\b(?:{_ABSENT}|alternat(?:e|ive)|temporar\w+|spares?|unused)\b|^reserv[ae]s?\b|{_OTHERS}",
    re.MULTILINE,
)
SIGNAL_SCOPE = re.compile(rf"\b(?:{_ABSENT})\b|{_OTHERS}", re.MULTILINE)
"""Words by which a row may not be there, or not on this bus (common practice, no source)."""
_SECONDS = r"s|secs?|seconds?|sek\w*|segundos?"
_TIME_UNIT = rf"(?:h|hrs?|hours?|std|stunden|horas?|mins?|minut\w+|{_SECONDS})"
_OFTEN = (
    r"\d ?x? ?(?:operations?|ops|cycles?|starts?|strokes?|times|actuations?|openings?|events?|"
    r"betatigungen|schaltspiele|maniobras|manoeuvres|fois|veces|mal)?[ -]?"
    r"(?:an?|per|/|pro|je|par|por|al|am) ?(?:h|hour|d|day|stunde|tag|jour|heure|dia|hora)\b"
)
"""How often a load starts, whose time may be that of one start."""
_FIGURE = re.compile(
    rf"\d ?(?:[kmuµ]?(?:w|a|va|wh|ah)|hp|watts?|amps?|{_TIME_UNIT}|%)(?![a-z0-9])|{_OFTEN}"
)
_DRAW = re.compile(r"\d ?(?:k?w|va|m?a|hp|watts?|amps?)(?![a-z0-9])")
_PIECES = re.compile(
    r"\b(\d{1,3}) ?(?:off|nos?|pcs|pieces|units|stk|required|reqd|"
    r"per (?!day|hour|d\b|h\b)[a-z]+)\b|"
    r"\bqty\.? ?(\d{1,3})\b|\( ?x ?(\d{1,2}) ?\)",
    re.MULTILINE,
)
"""Pieces that a text names."""
_SHARES = re.compile(
    r"duty|on[- ]time|of (?:the )?(?:time|day|hour)|einschalt|\bed\b|transmi|stand-?by|sleep|"
    r"active|idle|spare|margin|contingen|reserv|growth|allow|zuschlag|tiempo"
)
"""Words beside a percentage that bears on watts or time; an efficiency does not."""
_TIME = re.compile(
    rf"(?<![a-z_\d.,])(?<![a-z]-)\d+(?:[.,]\d+)? ?{_TIME_UNIT}(?![a-z0-9])"
)
_TEXTS = word_set(
    "name text tag detail remark group type io_type signal status scope other data_type "
    "normal supply protocol spare"
)
_OWN = re.compile(
    r"\bown\b|\bloss|idle|no[- ]load|stand-?by|self|quiescent|perdida|eigen|verlust"
)
_PART_OF = re.compile(
    r"part of|included (?:in|above|with)\b|\bincl\.? (?:in|above|with)\b|consist|compris|"
    r"^(?:[-–•*>] ?[^\W\d]|of which|davon|thereof)|teil von|enthalten|incluid[oa] en|inclus dans",
    re.MULTILINE,
)
"""A row that says again what another one states (common practice, no source)."""
_OF_WHICH = re.compile(
    r"^(?:of which|of these|thereof|davon|darin|dont|de los cuales|de ellos|di cui)\b",
    re.MULTILINE,
)
_TOTALISH = re.compile(
    r"\btotal|\bsum\b|summe|gesamt|\bconnected|\binstalled|\brequired|\bdemand|\boverall|\bload"
)
_WHOLE = re.compile(
    r"cabinet|panel|rack|assembl|system|package|station|complete|\bkit\b|\bset\b|skid|"
    r"schrank|anlage|gabinete|tablero|conjunto|armoire"
)
"""Names of things that are made of others (common practice, no source)."""
_GONE = re.compile(
    r"delet|void|remov|cancel|withdrawn|supersed|spare|future|hold|gestrich|entf|geloscht|"
    r"anulad|eliminad|borrad|suprim|supprim|annul|abandon|demol|dismant|retir|obsolet|planned|"
    r"decommission|reserv|futur|geplant|pending|dropped|not (?:used|required|connected)"
)
"""A quick look before `row_status` at columns that nothing is read from."""
NOTHING_SAID = Reading()
PLAIN = word_set(
    "contatto contato pulito seco sec vfd vsd drive drives starter starters mcc "
    "see note notes refer ref per with without and for from the are was not all any new old "
    "existing existings wired hard hardwired field local remote site tbc check checked verify "
    "confirm confirmed confirmation mount mounted mounting flanged flange threaded seal seals "
    "diaphragm manifold impulse line lines pipe pump pumps valve valves tank tanks vessel motor "
    "motors compressor engine meter gauge well flow pressure level temperature transmitter switch "
    "alarm trip high low fail safe shutdown esd interlock logic ready running stopped start stop "
    "open close closed opened fault healthy reset test manual auto automatic hart smart loop "
    "sil rated proof flame flameproof explosion zone hazardous certified intrinsically isolated "
    "barrier isolator relay relays interposing coil solenoid contact dry wet double single dual "
    "three two four five six way channel channels redundant pair cable screened shielded twisted "
    "core multicore junction box calibrated calibration range scaled scaling square root linear "
    "density gas oil water air fuel steam critical essential vital key main mains emergency "
    "display indicator indication lamp beacon horn door hatch intrusion battery charger solar "
    "common general group totalizer totaliser totalised pulse pulses rate adjustable setpoint "
    "typical typ max min nominal peak startup surge inrush continuous intermittent duty standby "
    "operation operating normally energised energized energise energize trip tripped drawing "
    "sheet datasheet data spec specification vendor manual estimated estimate "
    "measured assumed nameplate rating vdc vac watts amps day night hour hours daily weekly "
    "installed supplied integrator incl included including inside outside indoor outdoor roof "
    "ground pole mast panel cabinet rack terminal terminals fuse fused breaker supply powered "
    "sample samples sampling every only when while during also both each total sum average "
    "normal alarmed winter summer thermostat controlled time timer delay momentary latched "
    "latching maintained pulsed reverse forward upstream downstream inlet outlet suction discharge "
    "north south east west side top bottom upper lower left right first second third "
    "antenna mast custody transfer chamber dome sliding bracket rail conduit gland tray fixed "
    "portable window stainless steel brass aluminum plastic painted red green blue amber yellow "
    "led thermowell orifice vortex turbine magnetic radar guided wave probe float differential "
    "absolute spring return rotary globe ball butterfly quarter turn handwheel positioner "
    "filter regulator tubing strap clamp insertion inline"
)
"""Words of remarks that leave a row as it stands (common practice, no source)."""
MOST_SUMMED = 5000
"""Rows up to which sums of neighbors are looked for (judgment) [count]."""
NEAR_FRAC = 1e-3
_BEAR = word_set(
    "power watt current duty hours energy efficiency loss contingency diversity factor"
)
_SKIPPED = word_set("title note section ignored setting template")


def _near(a: float, b: float, frac: float = 0.011) -> bool:
    return abs(a - b) <= frac * max(abs(a), abs(b))


_NAMING = word_set("name text tag detail remark")


def _aside(column: ListColumn) -> bool:
    """Return whether the texts of a column that is not used may bear on its rows."""
    unused = column.field in _TEXTS or not column.field
    return unused and not left_alone(column)


_DIGITS = re.compile(r"\d+")


_END = "\0"
"""Parts texts that are joined; no cell holds one."""


def _plain(text: str) -> str:
    """Return a text in small letters without accents on one line."""
    return (text.lower() if text.isascii() else bare_letters(text)).replace("\n", " ")


def _stems(texts: list[str]) -> list[str]:
    """Return texts with each number in one digit: "Pump 101" and "Pump 7" are alike."""
    bare = _END.join(t if t.isascii() else bare_letters(t) for t in texts)
    return (
        _DIGITS.sub("9", bare.lower().replace("\n", " ")).split(_END) if texts else []
    )


class _OneText:
    """Texts that are searched as one, those that differ in their numbers once."""

    def __init__(self, texts: list[str]) -> None:
        self._texts, self._stems = texts, _stems(texts)
        self._counts = Counter(self._stems)
        self._known = list(self._counts)
        self._starts = [0, *accumulate(len(stem) + 1 for stem in self._known)]
        self._whole = "\n".join(self._known)

    def found(self, rule: re.Pattern[str]) -> list[tuple[int, str]]:
        """Return place and text of those that meet a rule."""
        found = rule.finditer(self._whole)
        stems = {self._known[bisect_right(self._starts, m.start()) - 1] for m in found}
        alike = list(self._of(stems))
        meets = {t for t in {text for _, text in alike} if rule.search(_plain(t))}
        return [(place, text) for place, text in alike if text in meets]

    def lone(self, most: int) -> Iterator[tuple[int, str]]:
        """Yield place and text of wordings that stand on no more places than so many."""
        yield from self._of({stem for stem, n in self._counts.items() if n <= most})

    def _of(self, stems: set[str]) -> Iterator[tuple[int, str]]:
        """Yield place and text of wordings, each number in one digit, from top to bottom."""
        for place, stem in enumerate(self._stems) if stems else ():
            if stem in stems:
                yield place, self._texts[place]


class TextColumns:
    """The columns of a table whose texts nothing is read from, searched at once.

    A list of 100,000 rows is searched as one text a column, each wording once.

    Parameters
    ----------
    columns, rows, numbers
        The columns; the rows to look at and their numbers from 1.
    tags
        Whether tags are searched too.
    """

    def __init__(
        self,
        columns: Columns,
        rows: list[Row],
        numbers: list[int],
        *,
        tags: bool = True,
    ) -> None:
        self._numbers, self._rows = numbers, rows
        self._by_column: list[tuple[ListColumn, _OneText, list[int]]] = []
        for column in columns.all:
            if column.field == "tag" and not tags:
                continue
            if not column.filled or not (
                column.field in _NAMING or _aside(column) or column.field == "other"
            ):
                continue
            index = column.index
            cells = [row[index] if index < len(row) else None for row in rows]
            places = [k for k, cell in enumerate(cells) if type(cell) is str]
            texts = [cell for cell in cells if type(cell) is str]
            self._by_column.append((column, _OneText(texts), places))

    def found(
        self,
        rule: re.Pattern[str],
        *,
        draws: bool = False,
        fields: frozenset[str] = frozenset(),
    ) -> Iterator[tuple[int, str]]:
        """Yield the number of the row and the text of each cell that meets a rule."""
        for column, texts, places in self._by_column:
            if column.field not in (fields or _NAMING) and (
                fields or not _aside(column)
            ):
                continue
            for place, text in texts.found(rule):
                if not draws or draws_in(text):
                    yield self._numbers[places[place]], text

    def gone(self) -> Iterator[tuple[int, str]]:
        """Yield rows that a mark in a text calls deleted, spare or future.

        A column that nothing is read from may say so in its whole cell.
        """
        for column, texts, places in self._by_column:
            named = column.field in _NAMING
            for place, text in texts.found(_GONE):
                if mark_in(text) in OUT or (not named and row_status(text) in OUT):
                    yield self._numbers[places[place]], text

    def lone(self) -> Iterator[tuple[int, str]]:
        """Yield short remarks on one or two rows with a word that no rule knows."""
        for column, texts, places in self._by_column:
            if column.field != "remark":
                continue
            for place, text in texts.lone(MOST_ALONE):
                at = places[place]
                beside = (c for c in self._rows[at] if isinstance(c, str) and c != text)
                if _not_understood(text, frozenset(words_of(" ".join(beside)))):
                    yield self._numbers[at], text


_OF_DEVICE = re.compile(r"\d|^with\b|^mit\b|^con\b|^avec\b", re.IGNORECASE)
MOST_ALONE = 2
"""Rows up to which the wording of a remark stands alone (judgment) [count]."""
SHORT_WORDS = 4
"""Words of a remark up to which each is looked at; longer ones explain (judgment)."""


def _not_understood(text: str, beside: frozenset[str] = frozenset()) -> bool:
    """Return whether a short remark holds a word that belongs to no trade talk known here.

    Figures and what a device has tell of the device, as the words beside the remark do.

    Examples
    --------
    >>> _not_understood("parked"), _not_understood("see note"), _not_understood("flame proof")
    (True, False, False)
    >>> _not_understood("400 GHz band"), _not_understood("with bracket")
    (False, False)
    >>> _not_understood("sliding grilk", frozenset({"grilk"}))
    False
    """
    if _OF_DEVICE.search(text):
        return False
    words = [w for w in words_of(text) if len(w) > 2 and w.isalpha()]
    if (
        not words
        or len(text.split()) > SHORT_WORDS
        or row_status(text)
        or fails_to(text)
    ):
        return False
    if not figure(text).empty or read_state(text) or read_signal(text) != NOTHING_SAID:
        return False
    if read_supply(text):
        return False
    return any(
        not (known(w) or known(w.removesuffix("s")) or w in PLAIN | beside)
        for w in words
    )


# --- schedules ---


class ScheduleLook:
    """Looks again at the loads of one schedule.

    Parameters
    ----------
    part
        The table that was read; loads that restate others are taken out of its result.
    asked
        Where questions go.
    comma
        Whether the list writes decimal commas.
    """

    def __init__(
        self, part: FoundPart, asked: Questions, *, comma: bool | None
    ) -> None:
        found = part.result
        assert isinstance(found, ScheduleResult)
        self._sheet, self._columns = part.table.sheet, part.columns
        self._loads, self._classes = found.loads, found.classes
        self._asked, self._comma = asked, comma
        self._by_row = {load.row: load for load in found.loads}

    def look(self) -> list[str]:
        """Ask what the first reading passed by, and return what is only told [text]."""
        numbers = [load.row for load in self._loads]
        rows = [self._sheet.rows[n - 1] for n in numbers]
        texts = TextColumns(self._columns, rows, numbers)
        self._restated({number for number, _ in texts.found(_PART_OF)})
        self._sums()
        self._scope([*texts.found(SCOPE), *texts.gone()])
        for rule, passed in ((_FIGURE, self._figure), (_PIECES, self._pieces)):
            for number, text in texts.found(rule):
                load = self._by_row[number]
                if self._classes[load.row - 1] != "load":
                    continue
                about = self._asked.about(self._sheet.name, number)
                if "passed-over" not in about and not load.why and passed(load, text):
                    self._ask("passed-over", load, text)
        self._converters()
        for number, text in texts.lone():
            if self._classes[number - 1] == "load":
                self._unknown(number, text)
        return self._untimed() + self._left_at_zero()

    def _ask(self, cause: str, load: ListedLoad, text: str = "") -> None:
        said = f" '{text[:60]}'" if text and text != load.name else ""
        weight = load.running_w or 0.0
        self._asked.ask(
            cause, self._sheet.name, load.row, f"{load.name}{said}", weight=weight
        )

    def _scope(self, found: Iterable[tuple[int, str]]) -> None:
        """Ask about rows whose words say that they may not be there."""
        for number, text in found:
            load = self._by_row[number]
            if self._classes[load.row - 1] != "load":
                continue
            about = self._asked.about(self._sheet.name, number)
            known = {
                "remark-others",
                "out",
                "power-others",
                "scope",
                "power-included",
                "status-word",
                "status-none",
            }
            if not about & known and load.running_w:
                self._ask("scope", load, text)

    def _unknown(self, number: int, text: str) -> None:
        """Ask about a remark that nobody knows, where nothing else was asked of its row."""
        if not self._asked.about(self._sheet.name, number):
            self._ask("remark-word", self._by_row[number], text)

    # --- figures in words ---

    def _numbers(self, load: ListedLoad) -> set[float]:
        row = self._sheet.rows[load.row - 1]
        found = (cell_number(c, comma=self._comma) for c in row)
        return {n for n in found if n is not None}

    def _figure(self, load: ListedLoad, text: str) -> bool:
        """Return whether a text states a draw or a time that its row does not count."""
        numbers = self._numbers(load)
        return self._draw(load, text, numbers) or self._time(load, text, numbers)

    def _draw(self, load: ListedLoad, text: str, numbers: set[float]) -> bool:
        pieces = max(1, load.quantity)
        watts = [w for w in (load.running_w, load.maximum_w, load.inrush_w) if w]
        watts += [w / pieces for w in watts]
        amps = [w / load.volts for w in watts if load.volts]
        for unit, value in draws_in(text, comma=self._comma):
            kind, factor = UNITS[unit]
            own = {"power": watts, "current": amps, "energy": [load.wh_per_day or 0.0]}
            stated = (*own.get(kind, [value * factor]), *(n * factor for n in numbers))
            if not any(_near(value * factor, known) for known in stated):
                return True
        return False

    def _time(self, load: ListedLoad, text: str, numbers: set[float]) -> bool:
        plain = text.lower()
        shared = "%" in plain and _SHARES.search(plain)
        timed = bool(shared or _TIME.search(plain))
        timed = self._often(load, plain) or (timed and load.clock != "modes")
        about = self._asked.about(self._sheet.name, load.row)
        if not timed or "time-unread" in about:
            return False
        said = {
            float(n.replace(",", ".")) for n in re.findall(r"\d+(?:[.,]\d+)?", plain)
        }
        if said <= numbers | {n * 100 for n in numbers}:
            return False
        share = on_share(text, comma=self._comma)
        counted = (load.wh_per_day or 0.0) / (24 * (load.running_w or 1.0))
        return share is None or not _near(share, counted)

    def _often(self, load: ListedLoad, plain: str) -> bool:
        """Return whether a text says how often a load starts, which no cell of its row does."""
        row = self._sheet.rows[load.row - 1]
        columns = self._columns.of("duty", "cycles", "interval")
        stated = any(cell_at(row, c.index) is not None for c in columns)
        return not stated and bool(re.search(_OFTEN, bare_letters(plain)))

    def _pieces(self, load: ListedLoad, text: str) -> bool:
        """Return whether a text names other pieces than its row counts."""
        about = self._asked.about(self._sheet.name, load.row)
        if about & {"pieces-all", "pieces-each", "quantity", "several-named"}:
            return False
        found = (m for m in _PIECES.finditer(text.lower()))
        named = {int(next(filter(None, m.groups()))) for m in found}
        return bool(named - {load.quantity, 1} - self._numbers(load))

    # --- time, converters ---

    def _untimed(self) -> list[str]:
        """Ask about switched loads that state no time; of the others it is told."""
        told = []
        for load in self._loads:
            about = self._asked.about(self._sheet.name, load.row)
            stated = load.energy_said is not None or "time-unread" in about
            if load.clock != "none" or not load.running_w or stated:
                continue
            if SWITCHED.search(bare_letters(load.name)):
                self._ask("untimed", load)
            else:
                told.append(load)
        words = "loads state no time and are counted 24 h a day"
        return self._told(told, words)

    def _left_at_zero(self) -> list[str]:
        """Tell which loads were taken to draw nothing, for a dash or "none"."""
        rest = [x for x in self._loads if x.why == "none"]
        return self._told(rest, "loads state no draw of their own; nothing is added")

    def _told(self, loads: list[ListedLoad], words: str) -> list[str]:
        names = ", ".join(f"{x.name} (row {x.row})" for x in loads[:5])
        more = f" and {len(loads) - 5:,} more" if len(loads) > 5 else ""
        return [f"{self._sheet.name}: {words}: {names}{more}."] if loads else []

    def _converters(self) -> None:
        """Ask whether the watts of converters and supplies are drawn or delivered."""
        drawing = [load for load in self._loads if load.running_w]
        for place, _ in _OneText([x.name for x in drawing]).found(CONVERTS):
            load = drawing[place]
            row = " ".join(text_of(c) for c in self._sheet.rows[load.row - 1] if c)
            if not _OWN.search(bare_letters(row)):
                self._ask("rating", load)

    # --- rows that restate others ---

    def _restated(self, marked: set[int]) -> None:
        """Ask about parts of a row that state its watts again.

        Parts that are marked so and add up to the watts and Wh/day of their row are not
        counted; others are, and asked.
        """
        for parent, parts in self._families(marked):
            watts = sum(x.running_w or 0.0 for x in parts)
            energy = sum(x.wh_per_day or 0.0 for x in parts)
            whole = _near(watts, parent.running_w or 0.0, NEAR_FRAC)
            whole = whole and energy <= 1.001 * (parent.wh_per_day or 0.0)
            for part in parts:
                self._ask("part-out" if whole else "part-twice", part)
                if whole:
                    self._take_out(part, "copy")

    def _take_out(self, load: ListedLoad, name: str) -> None:
        self._classes[load.row - 1] = name
        self._loads[:] = [x for x in self._loads if x is not load]

    def _families(
        self, marked: set[int]
    ) -> Iterator[tuple[ListedLoad, list[ListedLoad]]]:
        """Yield each row with the parts that its number, words or dash say it has."""
        items = [c for c in self._columns.of("item", "tag") if c.filled]
        if not (items or marked):
            return
        numbers: dict[str, ListedLoad] = {}
        families: dict[int, list[ListedLoad]] = {}
        above: ListedLoad | None = None
        for load in [x for x in self._loads if x.running_w]:
            row = self._sheet.rows[load.row - 1]
            item = next(
                (text_of(row[c.index]) for c in items if c.index < len(row)), ""
            )
            parent = numbers.get(item.rpartition(".")[0]) if "." in item else None
            numbers.setdefault(item.removesuffix(".0"), load)
            if parent is None and load.row in marked:
                parent = above
            if parent is None:
                above = load
            else:
                families.setdefault(parent.row, []).append(load)
        yield from ((self._by_row[row], parts) for row, parts in families.items())

    def _sums(self) -> None:
        """Read an unnamed row, or one called like a sum, that sums the rows above as a total.

        Other rows that are the sum of their neighbors are counted and asked.
        """
        loads = [x for x in self._loads if x.running_w]
        if not 2 < len(loads) <= MOST_SUMMED:
            return
        above = block = 0.0
        for place, load in enumerate(loads):
            watts = load.running_w or 0.0
            before = range(loads[place - 1].row if place else 0, load.row - 1)
            if {"total", "section"} & {self._classes.get(k) for k in before}:
                block = 0.0
            named = load.name == f"row {load.row}"
            sums = place > 1 and any(_near(watts, x, NEAR_FRAC) for x in (above, block))
            if sums and block != loads[place - 1].running_w:
                if named or (
                    _TOTALISH.search(bare_letters(load.name)) and not load.tag
                ):
                    self._ask("sum-row", load)
                    self._take_out(load, "total")
                    continue
                if place > 2 or _WHOLE.search(bare_letters(load.name)):
                    self._ask("part-twice", load)
            elif named or _TOTALISH.match(bare_letters(load.name)):
                self._ask("sum-like", load)
            elif _sums_next(loads, place):
                self._ask("part-twice", load)
            above, block = above + watts, block + watts


def _sums_next(loads: list[ListedLoad], place: int) -> bool:
    """Return whether a load is the sum of those that follow: three, or two that differ."""
    total, parts = 0.0, []
    watts = loads[place].running_w or 0.0
    for load in loads[place + 1 :]:
        total += load.running_w or 0.0
        parts.append(load.running_w)
        if total > watts * (1 - NEAR_FRAC):
            break
    whole = bool(_WHOLE.search(bare_letters(loads[place].name)))
    if not _near(total, watts, NEAR_FRAC) or len(parts) < (2 if whole else 3):
        return False
    energy = sum(x.wh_per_day or 0.0 for x in loads[place + 1 :][: len(parts)])
    return _near(energy, loads[place].wh_per_day or 0.0, NEAR_FRAC)


def ask_twice(asked: Questions, tables: list[list[ListedLoad]]) -> None:
    """Ask about loads that stand in two tables, or twice in one: one tag, or name and watts."""
    if len(tables) < 2 and not any(load.tag for loads in tables for load in loads):
        return
    seen: dict[tuple[object, ...], tuple[int, ListedLoad]] = {}
    for number, loads in enumerate(tables):
        for load in loads:
            if not load.running_w:
                continue
            tag, name = load.tag.casefold(), load.name.casefold()
            keys: list[tuple[object, ...]] = [(tag, name, load.running_w, load.volts)]
            keys += [(tag,)] if re.search(r"\d", tag) else []
            for key in keys:
                other, first = seen.setdefault(key, (number, load))
                again = first is not load and (
                    other != number or (tag and len(key) > 1)
                )
                if again:
                    said = f"{load.name} (also {first.sheet}, row {first.row})"
                    asked.ask("load-twice", load.sheet, load.row, said)
                    break


# --- signals ---


def look_at_signals(
    part: FoundPart, lines: list[ListLine], asked: Questions, *, comma: bool | None
) -> None:
    """Ask about words of scope and stated draws of live signals that were passed by."""
    live, sheet = {x.row: x for x in lines if x.kind == "point"}, part.table.sheet
    texts = TextColumns(
        part.columns, [sheet.rows[n - 1] for n in live], list(live), tags=False
    )
    for number, text in [*texts.found(SIGNAL_SCOPE), *texts.gone()]:
        line = live[number]
        if not asked.about(sheet.name, number) & {
            "scope",
            "future-text",
            "status-word",
            "status-none",
        }:
            _ask_line(asked, "scope", line, text)
    for number, text in texts.found(_DRAW, draws=True):
        line = live[number]
        about = asked.about(sheet.name, number)
        if about.isdisjoint(("passed-over", "contact-rating")) and _draws(
            line, text, comma
        ):
            _ask_line(asked, "passed-over", line, text)
    for number, text in texts.found(_OF_WHICH):
        _ask_line(asked, "part-twice", live[number], text)
    for number, text in texts.found(_KIND, fields=_REMARK):
        if _further_kinds(text) - live[number].points.keys():
            _ask_line(asked, "further-kind", live[number], text)
    for number, text in texts.lone():
        if not asked.about(sheet.name, number):
            _ask_line(asked, "remark-word", live[number], text)


_KIND = re.compile(r"\b(?:ai|ao|di|do)s?\b")
_REMARK = word_set("remark")


def _further_kinds(text: str) -> set[str]:
    """Return the kinds that a remark names in capitals, which other words may spell.

    Examples
    --------
    >>> sorted(_further_kinds("and AI current")), _further_kinds("DO NOT USE, do test")
    (['ai'], set())
    """
    sure = {"AI", "AO"} if text.isupper() else {"AI", "AO", "DI", "DO"}
    found = re.findall(r"\b(?:AI|AO|DI|DO)(?=s?\b)(?!,? NOT\b)", text)
    return {kind.lower() for kind in found if kind in sure}


def _ask_line(asked: Questions, cause: str, line: ListLine, text: str) -> None:
    name = f"{line.tag or line.text} '{text[:60]}'"
    asked.ask(cause, line.sheet, line.row, name)


_WIRES = (2.0, 3.0, 4.0)
"""Figures before a W that count the wires of a loop or a thermometer."""


def _draws(line: ListLine, text: str, comma: bool | None) -> bool:
    """Return whether a text states a draw that its row does not count.

    Amperes and kilowatts beside an analog input are what it measures.
    """
    pieces = max(1, line.quantity)
    own = [w for w in (line.maximum_w, line.typical_w) if w]
    own += [w / pieces for w in own]
    driven = {"do", "serial"} & set(line.points)
    volts = [v for v in (line.volts, figure(text, comma=comma).volts) if v]
    for unit, value in draws_in(text, comma=comma):
        kind, factor = UNITS[unit]
        if unit == "W" and not driven and value in _WIRES:
            continue
        if kind == "power" and (driven or unit in {"W", "VA"}):
            known = own
        elif kind == "current" and driven:
            known = [w / v for w in own for v in volts]
            known += [line.amps] if line.amps else []
        else:
            continue
        if not any(_near(value * factor, k) for k in known):
            return True
    return False


# --- lines outside of the tables ---


def look_outside(out: Import) -> None:
    """Ask about titles, notes and headings that state a draw, a share or a factor."""
    sheets = {s.name: s for b in out.books for s in b.sheets if not s.hidden}
    names = ("running_w", "maximum_w", "wh_per_day")
    sums = [sum(getattr(x, n) or 0.0 for x in out.loads) for n in names]
    for tally in out.tallies:
        if tally.sheet in sheets and tally.use != "neither":
            _look_at_lines(sheets[tally.sheet], tally.rows, sums, out.asked)
            _look_for_tags(sheets[tally.sheet], tally.rows, out)
        elif tally.sheet in sheets:
            _look_at_packages(sheets[tally.sheet], out.asked)


def _look_for_tags(sheet: ClientSheet, classes: list[str], out: Import) -> None:
    """Ask about live tags that a note or a list of revisions calls deleted."""
    lines = [
        (number, " ".join(c for c in row if isinstance(c, str)))
        for number, (row, name) in enumerate(zip(sheet.rows, classes, strict=True), 1)
        if name in _SKIPPED
    ]
    found = [(n, words) for n, words in lines if _DELETES.search(bare_letters(words))]
    live = [x.tag for x in out.lines if x.kind == "point"] if found else []
    known = {tag.casefold() for tag in [*live, *(x.tag for x in out.loads)]}
    for number, words in found:
        named = re.findall(r"[\w/.-]*\d\w*", words)
        tags = ", ".join(t for t in named if t.casefold() in known)
        if tags:
            out.asked.ask("scope", sheet.name, number, f"{tags} '{words[:60]}'")


_DELETES = re.compile(
    r"delet|remov|cancel|void|gestrich|entfall|anulad|eliminad|supprim"
)


def _look_at_packages(sheet: ClientSheet, asked: Questions) -> None:
    """Ask about a sheet that only says how many packages, wells or sites there are."""
    texts = [c for row in sheet.rows for c in row if isinstance(c, str)]
    if not any(_COUNTS & concepts(words_of(text)) for text in texts):
        return
    for number, row in enumerate(sheet.rows, start=1):
        said = [c for c in row if isinstance(c, str)]
        counts = [n for c in row if (n := cell_number(c)) and n == int(n) > 1]
        packages = _PACKAGES.search(bare_letters(" ".join(said)))
        if packages and len(counts) == 1 and not any(map(spelt, said)):
            name = f"'{' '.join(said)[:60]} {counts[0]:g}'"
            asked.ask("times-of", sheet.name, number, name)


_COUNTS = word_set("quantity number")


def _look_at_lines(
    sheet: ClientSheet, classes: list[str], sums: list[float], asked: Questions
) -> None:
    for index, (row, name) in enumerate(zip(sheet.rows, classes, strict=True)):
        if name not in _SKIPPED or asked.about(sheet.name, index + 1):
            continue
        words = " ".join(c for c in row if isinstance(c, str))
        plain = bare_letters(words)
        if not words or any(rule.search(plain) for rule in (RESULTS, SOURCES, _CHARGE)):
            continue
        if name in {"title", "section"} and _TIMES_OF.search(plain):
            asked.ask("times-of", sheet.name, index + 1, f"'{words[:90]}'")
            continue
        numbers = [c for c in row if isinstance(c, float)]
        open_ = name == "note" and any(
            r.search(plain) for r in (OPEN_NOTE, SIGNAL_SCOPE)
        )
        if open_ or _says_figure(plain, numbers, name, sums):
            text = " ".join(text_of(c) for c in row if c is not None)
            asked.ask("outside", sheet.name, index + 1, f"'{text[:90]}'")


_PACKAGE = r"(?:(?:package|skid|well|wellhead|train|site|station|pad|run)s?)"
_PACKAGES = re.compile(rf"\b{_PACKAGE}\b")
_TIMES_OF = re.compile(
    r"\btyp(?:ical)?\.? (?:of|for|x) ?\d|\( ?(?:x ?\d+|\d+ ?(?:x|off|nos?\.?|sets?)) ?\)|"
    rf"\b(?:[2-9]|\d\d) ?(?:off|identical|sets?|{_PACKAGE})\b|\bper {_PACKAGE}\b|"
    r"\bfor each\b|\beach of\b"
)
"""Words of a title or heading by which the rows below come several times."""
_FACTOR = re.compile(r"\bfactor\b\D{0,20}\d|\bx ?1[.,]\d|\bmultipl")
_CHARGE = re.compile(r"\bm?ah\b")
_BATTERY = re.compile(r"\bbatter|\bakku|bateria|\bfuse|\bbreaker")


def _says_figure(
    plain: str, numbers: list[float], name: str, sums: list[float]
) -> bool:
    """Return whether a line outside of the tables states what bears on the loads."""
    for unit, value in draws_in(plain):
        kind, factor = UNITS[unit]
        repeats = any(_near(value * factor, known) for known in sums)
        if not repeats and not (kind == "charge" or _BATTERY.search(plain)):
            return True
    if ("%" in plain and _SHARES.search(plain)) or _FACTOR.search(plain):
        return True
    if name != "title" and _TIME.search(plain) and concepts(words_of(plain)) & _BEAR:
        return True
    bears = concepts(words_of(plain)) & (_BEAR if name != "title" else {"contingency"})
    return bool(numbers and bears) and not any(
        _near(n, known) for n in numbers for known in sums
    )
