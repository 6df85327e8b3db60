"""Words that say what became of a row: deleted, spare, future, on hold.

A description never deletes; a cell that says nothing but its status does.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import lru_cache

from powerbudget.lists.words import bare_letters, folded

_TAIL = (
    r"(?: (?:in|per|by|at|from|since|rev(?:ision)?|r|issue|point|tag|signal|row|line|item|"
    r"mit|in der|en|por|no|na|nella|dans|date|dated|scope|of|the|this|list|see|note|mark|"
    r"indice|ind|stand|"
    r"[a-z]|[\d./-]+ ?%?)\.?)*"
)
_BY = r"(?: (?:per|by|from|due to|after|as per|gemass|wegen|selon|segun|por) .{1,80})?"
"""Who or what took a row out: "per HAZOP", "by client"."""
_WORDS: dict[str, str] = {
    "deleted": r"deleted?|del|void(?:ed)?|removed?|cancel(?:l?ed)?|obsolete|superseded|withdrawn|"
    r"gestrichen|entfallt|entfallen|geloscht|anulad[ao]|eliminad[ao]|borrad[ao]|cancelad[ao]|suprimid[ao]|retirad[ao]|annullat[ao]|soppress[ao]|vervallen|supprimee?|"
    r"annulee?|excluido|dropped|not required|not reqd|demolish(?:ed|ition)?|decommissioned|"
    r"to be (?:removed|deleted|demolished|decommissioned|retired|dismantled)|a (?:supprimer|"
    r"deposer|retirar|eliminar)|demontiert|wird (?:demontiert|entfernt)",
    "spare": r"(?:\d+ ?% )?(?:installed |wired |future )?(?:spares?|reserved)(?: (?:"
    r"channels?|input|output|point|di|do|ai|ao|i/o|"
    r"wired|pair|capacity))?|(?:\d+ ?% )?(?:reserves?|reserva)(?: capacity)?|"
    r"riserva|frei|libre|libres|livre|libero|"
    r"unbelegt|vacant|reserviert|"
    r"not connected|nicht belegt|disponible|no usad[ao]|unassigned|blank channel",
    "future": r"future|futur[oae]?|planned|later|zukunftig|spater|geplant|phase 2|previsto",
    "hold": r"(?:on )?hold|pending|en espera|angehalten",
    "live": r"active|add(?:ed)?|new|no change|keep|"
    r"retain(?:ed)?|existing|modified|changed|revised|ok|in use|used|live|aktiv|neu|"
    r"bestand|geandert|activo|nuevo|existente|approved|as[- ]built|installed|in service|"
    r"required|renamed|issued|confirmed|valid|unchanged|running|operating|operational|"
    r"in operation|preliminary|estimated|measured|calculated|typical|final|assumed|"
    r"vendor data|en service|en servicio|in betrieb|em operacao|in servizio|ativo|attivo|novo",
    "unused": r"not used|unused|nicht verwendet|no aplica|not applicable",
}
_WHOSE = r"(?:(?:tag|point|signal|row|line|item) )?"
_WHOLE = {
    name: re.compile(rf"^{_WHOSE}(?:{words}){_TAIL}$") for name, words in _WORDS.items()
}
_DELETED = re.compile(rf"^(?:{_WORDS['deleted']}){_TAIL}{_BY}$")
_CLAUSE = re.compile(r"\s+[-–—]+\s+|[,;:(]\s*")
MOST_LETTERS = 60
_START = re.compile(_WHOSE + "(?:" + "|".join(_WORDS.values()) + ")")
"""A quick look before the whole words, which most texts do not pass."""
_SPARE_TAG = re.compile(
    r"^(?:spare|reserve|reserva|riserva|frei|libre|rsv)s?[-_ #.]*"
    r"(?:(?:ai|ao|di|do|rtd|pi|ch)[-_ ]?)?"
    r"[-_ #.]*\d*[a-z]?$|^(?:ai|ao|di|do)?[-_ ]?spare[-_ ]?\d*$"
)
_SPARISH = re.compile(
    r"spar|res|ris|frei|lib|liv|rsv|unb|vac|nicht|not|disp|no |una|blank|wired"
)
_LEGEND = re.compile(
    r"(?:^|[,;:|\n]\s*|\s{2,})([A-Za-z0-9/*#+-]{1,4})\s*(?:=|:|-)\s+?([^,;|=\n]{2,60})"
)
_SUM = (
    r"(?:(?:sub|sous)[- ]?)?tota(?:l|le|les|ls|is|al|li|ux)|sums?|summen?|zwischensumme|[σ∑]|"
    r"zw\.? ?summe|suma|somme|gesamt(?:summe|leistung)?"
)
_OF_WHAT = (
    r"(?:i/?o|[ad][io]s?|rtd|points?|signals?|loads?|power|energy|demand|watts?|m?a|k?wh?|ah|"
    r"consumption|count|qty|quantity|current|general|carga|puntos|senales|punkte|dc|ac|required|"
    r"connected|installed|running|average|daily|design|per day|per|day|/day|with|incl\w*|spares?|"
    r"mit|con|analog\w*|digital|discrete|inputs?|outputs?|and|of|all|\d[\d.,]*|%|[a-h]\b|v(?:dc|ac)?\b|"
    r"bus\b|rail\b|[(/)=:+&-])"
)
_TOTAL = re.compile(
    rf"^(?:(?:grand|sub|design|installed|connected|running|average|daily|overall) ?)*(?:{_SUM})"
    rf"(?: ?{_OF_WHAT})*$"
)
_PERHAPS = re.compile(
    rf"^(?:(?:{_SUM})\b|(?:design|peak|maximum|max|average|running|total|daily|normal|connected|"
    r"estimated|overall|demand|coincident|consumed)\b|auslegung|"
    r"carga total|bemessung)"
)
_SUMMED = re.compile(
    r"\bloads?\b|\bpower\b|\bdemand\b|\bconsumption\b|leistung|carga|potencia"
)
TOTALISH = re.compile(r"tot|su[mb]|gesamt|somme|zw|suma|[σ∑]")
"""A quick look before `is_total`, at small letters."""


def is_total(text: str) -> bool:
    """Return whether a cell names a total and nothing else.

    Examples
    --------
    >>> is_total("TOTAL AI"), is_total("Subtotal mA"), is_total("Total flow meter")
    (True, True, False)
    """
    return bool(TOTALISH.search(text.lower())) and bool(_TOTAL.match(folded(text)))


def may_be_total(text: str, *, pieces: bool) -> bool:
    """Return whether a row without a quantity of its own sums others.

    Parameters
    ----------
    text
        What the row is called [text].
    pieces
        Whether the rows of its list have quantities.

    Examples
    --------
    >>> may_be_total("Peak load", pieces=False), may_be_total("Peak detector", pieces=False)
    (True, False)
    """
    plain = folded(text)
    return bool(_PERHAPS.match(plain)) and (pieces or bool(_SUMMED.search(plain)))


NOTES = re.compile(
    r"^(?:notes?|legend|legende|leyenda|key|abbreviations|abkurzungen|hinweise?|anmerkung(?:en)?|"
    r"notas?|remarks|revisions?|revision history|general notes|bemerkungen|assumptions|"
    r"references|prepared by|checked by|approved by|issued for)\b"
)
STATUS_WORDS = re.compile(
    r"\b(?:future|planned|reserves?|spare|removed|void|deleted?|cancel(?:led)?|hold|option(?:al|s)?|"
    r"by (?:others|client|owner|vendor|contractor)|not (?:included|in (?:contract|scope))|excluded|"
    r"n\.?i\.?c|out of scope|provisional|phase [2-9]|bauseits|por otros|opcional(?:es)?)\b"
)
"""Words of a heading by which the rows below it may not count."""


_PAPER = re.compile(
    r"(?:rev(?:ision)?|issue|ind(?:ice)?|revisao|revisione)\.?(?: no\.?)?"
)
_SIGNED = re.compile(
    r"date|datum|fecha|data|by|description|drawn|prepared|checked|chk|app"
)


def begins_revisions(cells: Sequence[object]) -> bool:
    """Return whether the filled cells of a row are the heads of a block of revisions.

    Examples
    --------
    >>> begins_revisions(["Rev", "Description", "By"]), begins_revisions(["Rev", "C"])
    (True, False)
    """
    said = [folded(c).strip(".") for c in cells if isinstance(c, str)]
    return (
        len(said) == len(cells) > 2
        and bool(_PAPER.fullmatch(said[0]))
        and sum(bool(_SIGNED.match(text)) for text in said[1:]) > 1
    )


@lru_cache(maxsize=16384)
def whole_status(text: str) -> str:
    """Return the status that a whole cell states, empty where it says more [text].

    Examples
    --------
    >>> whole_status("DELETED in rev B"), whole_status("replaces deleted PT-90")
    ('deleted', '')
    >>> whole_status("Deleted in rev. B"), whole_status("Tag deleted rev. 2")
    ('deleted', 'deleted')
    >>> whole_status("Reserve tank level"), whole_status("frei")
    ('', 'spare')
    """
    if len(text) > MOST_LETTERS or (
        text.isascii() and not _START.match(text.lower().lstrip(" .!*-([_"))
    ):
        return ""
    plain = folded(text).strip(" .!*-")
    return next((name for name, rule in _WHOLE.items() if rule.match(plain)), "")


@lru_cache(maxsize=16384)
def row_status(text: str) -> str:
    """Return what a cell of a status or remark column says of its row, else empty [text].

    Such a cell may give a reason: its first clause decides, a later one where the first
    says only that the device is there.  A description is read by `whole_status` alone.

    Examples
    --------
    >>> row_status("Future - not in present scope"), row_status("Existing - to be removed")
    ('future', 'deleted')
    >>> row_status("Removed per HAZOP"), row_status("Replaces PT-90, deleted")
    ('deleted', '')
    """
    if len(text) > 3 * MOST_LETTERS:
        return ""
    found = [_clause(part) for part in _CLAUSE.split(text)]
    if found[0] != "live":
        return whole_status(text) or found[0]
    return next((x for x in found if x not in {"live", ""}), "") or "live"


def _clause(text: str) -> str:
    gone = _DELETED.match(folded(text).strip(" .!*-"))
    return "deleted" if gone else whole_status(text)


def is_spare_tag(text: str) -> bool:
    """Return whether a tag says spare and nothing else.

    Examples
    --------
    >>> is_spare_tag("SPARE-03"), is_spare_tag("Spare_1"), is_spare_tag("SP-101A/B")
    (True, True, False)
    """
    plain = text.lower() if text.isascii() else bare_letters(text)
    if not _SPARISH.search(plain):
        return False
    plain = re.sub(r"[()\[\]]", "", plain.strip())
    return bool(_SPARE_TAG.match(plain)) or whole_status(text) == "spare"


_BRACKETS = re.compile(r"[(\[]([^()\[\]]+)[)\]]")
_DASHED = re.compile(r"\s+[-–—]+\s+|:\s+")


def mark_in(text: str) -> str:
    """Return the status that a piece of a text states: in brackets, or parted by a dash.

    Examples
    --------
    >>> mark_in("PT-5 (deleted)"), mark_in("VOID - Pressure"), mark_in("Void pressure (bar)")
    ('deleted', 'deleted', '')
    """
    parts = _DASHED.split(text)
    pieces = [*_BRACKETS.findall(text), *(parts if len(parts) > 1 else ())]
    return next((said for piece in pieces if (said := whole_status(piece))), "")


_CODE = re.compile(r"[A-Z0-9/*#+-]{1,3}")
MOST_CODES = 60


def legend_rows(rows: Sequence[Sequence[object]]) -> Iterator[tuple[str, str]]:
    """Yield short codes and meanings of a sheet that is a legend: two cells a row, no more.

    Examples
    --------
    >>> list(legend_rows([["Code", "Meaning"], ["N", "New"], ["D", "Demolish"]]))
    [('n', 'New'), ('d', 'Demolish')]
    """
    filled = [[c for c in row if c is not None] for row in rows]
    pairs = [
        row for row in filled if len(row) == 2 and all(isinstance(c, str) for c in row)
    ]
    coded = [(str(a), str(b)) for a, b in pairs if _CODE.fullmatch(str(a))]
    if 1 < len(coded) <= MOST_CODES and len(coded) >= len([r for r in filled if r]) - 3:
        yield from ((code.lower(), meaning) for code, meaning in coded)


def legend_of(texts: list[str]) -> dict[str, str]:
    """Return what short codes stand for, from lines such as ``A = active``.

    Examples
    --------
    >>> legend_of(["A = active, D = deleted, S = spare"])
    {'a': 'active', 'd': 'deleted', 's': 'spare'}
    """
    found: dict[str, str] = {}
    for text in texts:
        for code, meaning in _LEGEND.findall(text):
            found.setdefault(code.lower(), meaning.strip())
    return found
