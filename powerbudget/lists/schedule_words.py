"""Words of schedules: what draws nothing, what is a loss, a margin, a source."""

from __future__ import annotations

import re
from functools import lru_cache

from powerbudget.lists.words import folded

PASSIVE = re.compile(
    r"\bantenn|\bbatter|\bakku|\bbateria|\bmodule?s? \d|\bsolar|\bpanel\b|\bmast\b|\bcable|\bkabel|"
    r"\benclosure|\bschrank|\bgabinete|\bfuse|\bbreaker|\bterminal|\bklemme|\bgland|\bearth|\bground|"
    r"\bsurge|\bbracket|\bpole\b|\bcabinet|\bdin rail|\bconduit|\btubing|\bgauge glass|\bsheet\b|"
    r"\blabou?r|\bfreight|\bmounting|\bbarrier\b|\bdocument"
)
"""Things that draw nothing by themselves (common practice, no source)."""
SOURCES = re.compile(
    r"\bsolar (?:panel|module|array)|\bpv (?:panel|module|array)|\bsolarmodul|"
    r"\bpanel solar|\bwind turbine|"
    r"\bthermoelectric gen|\bgenerator set|\bgenset|\bfuel cell"
)
"""Things that deliver power (common practice, no source)."""
RESULTS = re.compile(
    r"\bautonom|batter(?:y|ies) (?:bank|capacity|size|required|needed|ah)|\bdays of\b|"
    r"\b(?:required|minimum|total|selected|design|calculated) batter|sun ?hours|"
    r"depth of discharge|\bdod\b|\b(?:system|bus|nominal|battery) volt|insolation|"
    r"array (?:size|required|power|current)|number of (?:panels|modules|batteries|strings)|"
    r"\b(?:required|minimum) (?:array|panel|pv|solar)|autonomie|autonomia|reichweite"
)
"""What a sizing below the loads is about (common practice, no source)."""
LOSSES = re.compile(
    r"\bloss(?:es)?\b|verlust|perdida|pertes|eigenverbrauch|self[- ]?consumption|own consumption|"
    r"(?<!high )(?<!high-)\befficiency\b|wirkungsgrad|inefficien|"
    r"quiescent of (?:charge|regulator)|autoconsumo"
)
REGULATOR = re.compile(
    r"regulator|laderegler|charge controller|solar controller|regulador|controlador de carga"
)
CONTINGENCY = re.compile(
    r"contingency|reserve|reserva|zuschlag|margin|growth|spare capacity|future|allowance|"
    r"contingencia|margen|puffer|uncertainty|safety factor"
)
OPEN_NOTE = re.compile(
    r"by others|if any|excluded|not included|bauseits|tb[acd]\b|see vendor|por otros|no incluid|"
    r"nicht enthalten|see data"
)
INCL_INVERTER = re.compile(
    r"incl\w*\.? (?:the )?(?:inverter|losses)|dc side|inverter included|inkl\w*\.? wechselrichter"
)
INVERTER = re.compile(r"inverter|wechselrichter|inversor")
_OF_RUN = r"(?: (?:duty|load|operation|running|service|use|unit|pump|betrieb))?"
_OPERATION: dict[str, re.Pattern[str]] = {
    name: re.compile(rf"^(?:{words}){_OF_RUN}$")
    for name, words in {
        "continuous": r"continuous(?:ly)?|cont|c|continu[oae]?|contin|dauernd|dauer(?:betrieb)?|"
        r"permanente?|always(?: on)?|duty|running|working|normally running|"
        r"servicio continuo|duty/working|main",
        "intermittent": r"intermittent(?:ly)?|int|interm|intermitt|i|intermitente|periodic|cyclic|"
        r"intermittierend|aussetz(?:betrieb)?|kurzzeit(?:betrieb)?|on demand|occasional|"
        r"short[- ]time|intermittente?",
        "standby": r"stand[- ]?by|s/b|sb|stby|s|bereitschaft|(?:en |de )?reserv[ae]|en espera|"
        r"backup|back[- ]up|(?:de )?secours",
    }.items()
}
"""How a load runs -> what lists write for it (common practice, no source)."""


@lru_cache(maxsize=4096)
def operation(text: str) -> str:
    """Return ``continuous``, ``intermittent``, ``standby``, or empty [text].

    Examples
    --------
    >>> operation("Continuous duty"), operation("Stand-by"), operation("Pump")
    ('continuous', 'standby', '')
    """
    plain = folded(text).strip(".")
    found = (name for name, rule in _OPERATION.items() if rule.match(plain))
    return next(found, "")


BY_TURNS = re.compile(r"stand-?by|stby|s/b|spare|back-?up|reserve|\d ?s\b")
"""Words of pieces that stand by for others of their row."""
_NUMBER = r"(\d{1,3}|one|two|three|four|five|six)"
_OFF = r"(?: ?(?:x|no\.?|nos\.?|off|pcs?|units?|pumps?|fans?)\b)?[ -]?"
_DUTY = (
    rf"\b{_NUMBER}(?: ?w(?= ?\+)|{_OFF}"
    r"(?:on |in |en )?(?:duty|running|working|operating|operation|service|active|betrieb|"
    r"servicio|marche)\b)"
)
_STANDBY = (
    rf"\b{_NUMBER}(?: ?s\b|{_OFF}"
    r"(?:on |in |en |installed )?(?:stand-?by|stby|s/b|spare|back-?up|reserv[ae]|idle|"
    r"bereitschaft|secours|espera)\b)"
)
_AND = r"(?: (?:pump|unit|fan)s?)?[ +&/]*(?:and |plus )?"
_DUTY_STANDBY = re.compile(rf"{_DUTY}{_AND}{_STANDBY}")
_STANDBY_DUTY = re.compile(rf"{_STANDBY}{_AND}{_DUTY}")
_WORDS = ("one", "two", "three", "four", "five", "six")


@lru_cache(maxsize=4096)
def duty_standby(text: str) -> tuple[int, int]:
    """Return the pieces on duty and standing by that a text states, 0 and 0 without [count].

    Examples
    --------
    >>> duty_standby("Pump, 1 duty + 1 standby"), duty_standby("3 x 50 % (2 running, 1 stand-by)")
    ((1, 1), (2, 1))
    >>> duty_standby("one standby, one on duty"), duty_standby("1W+1S"), duty_standby("5 W, 1 s")
    ((1, 1), (1, 1), (0, 0))
    """
    plain = folded(text)
    ways = ((_DUTY_STANDBY, 1), (_STANDBY_DUTY, -1))
    found = next((m.groups()[::k] for rule, k in ways if (m := rule.search(plain))), ())
    if not found:
        return 0, 0
    duty, rest = (_WORDS.index(n) + 1 if n in _WORDS else int(n) for n in found)
    return duty, rest


_RUN_SHARE = re.compile(
    r"(\d{1,3}(?:[.,]\d+)?) ?% ?(?:of |x |\* ?)?(?:the |all )?(?:i\b|intermittent)"
)
_AT_PEAK = re.compile(r"\bpeak|\bmax|\bdemand\b")


def intermittent_share(text: str) -> float | None:
    """Return the share of time that a line gives intermittent loads, or None [fraction].

    Examples
    --------
    >>> intermittent_share("Average = C + 30 % I"), intermittent_share("Peak = C + 50 % I")
    (0.3, None)
    """
    plain = folded(text)
    found = None if _AT_PEAK.search(plain) else _RUN_SHARE.search(plain)
    share = float(found.group(1).replace(",", ".")) / 100 if found else None
    return share if share is not None and share <= 1 else None


SWITCHED = re.compile(
    r"\bpump|\bvalve|\bsolenoid|\bactuator|\bheater|\bheating|\blamp|\blights?\b|\blighting|"
    r"\bsiren|\bhorn\b|\bbeacon|\bstrobe|\bcompressor|\bmotor\b|\bprinter|"
    r"\bair ?con|thermostat|door switch|photo ?cell|pumpe|ventil\b|stellantrieb|heizung|"
    r"leuchte|beleuchtung|\bbomba|valvula|calefac|luminaria|actuador"
)
"""Things that are switched on for part of the day (common practice, no source)."""
CONVERTS = re.compile(
    r"dc ?[/-] ?dc|\bconverter|\binverter|\bups\b|power suppl|\bpsu\b|\bcharger\b|rectifier|"
    r"netzteil|wandler|wechselrichter|inversor|convertidor|transformer|fuente de|\bgenerator"
)
"""Things whose watts are what they deliver (common practice, no source)."""
