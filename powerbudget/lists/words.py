"""Words of heads: what engineers write above a column, in several languages.

Common practice, no source.  A head is cut into words and each word stands for a
concept; what a head means follows from its concepts and its unit, never from the
whole text of one list.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache


def word_list(text: str) -> tuple[str, ...]:
    """Return words parted by blanks, in their order."""
    return tuple(text.split())


def word_set(text: str) -> frozenset[str]:
    """Return words parted by blanks; an underscore stands for a blank in one of them.

    Examples
    --------
    >>> sorted(word_set("none not_used"))
    ['none', 'not used']
    """
    return frozenset(word.replace("_", " ") for word in text.split())


def by_word(groups: dict[str, str]) -> dict[str, str]:
    """Return what each word stands for, from meanings with their words.

    Examples
    --------
    >>> by_word({"W": "w watt", "V": "v"})
    {'w': 'W', 'watt': 'W', 'v': 'V'}
    """
    return {
        word.replace("_", " "): name
        for name, words in groups.items()
        for word in words.split()
    }


CONCEPTS: dict[str, str] = {
    "tag": "tag tags tagname tagno tagnr tagnumber kks etiqueta kennzeichen kennzeichnung"
    " messstelle messstellen repere symbol identifier mnemonic tagid tagnummer akz bmk"
    " instrument loop instrumento tagbezeichnung point rotulo"
    " sigla identificacao",
    "device": "device asset equipment equip gerat gerate equipo equipos component consumer"
    " verbraucher appliance consumidor carga appareil unit part article artikel betriebsmittel"
    " sensor sensors fuhler equipement equipements appareils"
    " equipamento equipamentos apparecchio apparecchiatura utenza utenze toestel",
    "number": "no nr num number numero nummer nro n° # nº nos progr",
    "gone": "deleted void voided removed cancelled canceled gestrichen anulado eliminado obsolete",
    "future": "future zukunftig futuro planned",
    "item": "s/n item pos position seq sequence line lfd idx index partida sl srno ser row"
    " sno laufende ln ref renglon posicion serial",
    "text": "description desc descr service svc serv servicio beschreibung bezeichnung"
    " benennung descripcion designation function funktion funcion fonction name text"
    " nombre denominacion purpose application nom klartext"
    " descricao servico descrizione denominazione libelle omschrijving funcao funzione nome",
    "type": "type typ tipo art kind class klasse clase analog/digital analogue/digital"
    " digital/analog digital/analogue"
    " tipologia",
    "signal": "signal signals sig sgnl senal senales signaltyp signalart signaltype"
    " sigtype signalform"
    " sinal sinais segnale segnali signaal",
    "io": "io i/o e/a e/s inout iotype",
    "direction": "in/out input/output output/input inputs/outputs ein/aus"
    " dir direction richtung sentido inputoutput"
    " direcao direzione",
    "address": "addr address adresse direccion register registers adr adresses"
    " endereco indirizzo adres",
    "quantity": "qty quantity quan count anzahl anz nbre nb cdad stuck stk"
    " stuckzahl menge cant cantidad qte"
    " quantite off pcs qnty pieces piezas quantidade"
    " qtd qtde quantita q.ta aantal q'ty q'nty",
    "power": "power pwr leistung potencia puissance consumption demand load draw"
    " leistungsaufnahme verbrauch consumo consumption consommation loads wattage"
    " leistungsbedarf"
    " potenza assorbimento vermogen verbruik conso",
    "watt": "watts watt w kw mw va",
    "current": "current amps amp amperes amperage strom stromaufnahme corriente intensidad"
    " courant ma ampere pullin"
    " corrente corrent stroom",
    "volt": "volt volts voltage v vdc vac spannung tension voltaje nennspannung vcc"
    " tensao tensione spanning",
    "typical": "typ typical normal nominal running run operating average avg mean betrieb"
    " tipico tipica nom nenn steady continuous rated usual promedio media moyenne quiescent"
    " absorbed aufgenommen absorbida absorbee",
    "maximum": "max maximum maximal maximo maxima full connected highest hochst peak worst"
    " spitze pico",
    "inrush": "inrush surge starting start startup anlauf einschaltstrom arranque anlaufstrom"
    " lra rush",
    "each": "each ea per je unit unitario unitaria einzel single cada pro individual c/u"
    " unitaire unitaires unitarios unitarias unitari einzelleistung apiece",
    "total": "total tot sum gesamt summe subtotal totals gesamtleistung totale totales totaux"
    " totaal totali totais totala",
    "duty": "duty einschaltdauer ed utilization utilisation usage dutycycle onshare",
    "factor": "factor faktor cos phi cosphi pf cosfi",
    "time": "time ontime runtime laufzeit dauer duration tiempo betriebszeit duree"
    " einschaltzeit",
    "on": "on ein operation",
    "hours": "hours hrs hr h std stunden horas hour heures hs betriebsstunden ore uren",
    "minutes": "min mins minutes minuten minutos",
    "seconds": "s sec secs seconds sek sekunden segundos",
    "day": "day d days dia dias jour j tagl taglich daily 24h giorno dag"
    " tage betriebstage jours giorni",
    "cycles": "ciclo zyklus cycles cycle"
    " operations ops reps starts strokes ciclos zyklen schaltspiele"
    " actuations maniobras samples events polls",
    "interval": "interval intervall intervalo intervalle every period",
    "energy": "wh kwh energy energie energia ah whday whd",
    "efficiency": "efficiency eff wirkungsgrad eta η eficiencia rendimiento rendement effic",
    "loss": "loss losses verlust verluste perdidas leitungsverluste perdida pertes",
    "diversity": "diversity simultaneity coincidence gleichzeitigkeit gleichzeitigkeitsfaktor"
    " simultaneidad div",
    "contingency": "contingency margin zuschlag growth allowance contingencia margen",
    "price": "price cost preis precio usd eur $ € £ gbp chf prix kosten costo coste amount"
    " cad aud preise budget",
    "status": "status change action anderung estado disposition cambio modification statut"
    " disp chg revstatus"
    " situacao stato situation",
    "state": "state st etat zustand position pos'n estado",
    "fail": "fail fails failed failure failsafe safe safety fault falla fallo repli ausfall"
    " sicherheitsstellung seguridad sicurezza seguranca",
    "norm": "norm normal normally normale normaal repos"
    " ruhelage normalstellung grundstellung reposo energized"
    " energised energizado erregt",
    "contact": "contact contacts kontakt contacto no/nc nc/no kontaktart",
    "spare": "spare reserve reserva spares riserva",
    "scope": "scope used inuse included include incl inscope enthalten alcance",
    "supply": "supply source src feed fed versorgung speisung alimentacion alimentation"
    " powered wires wiring rail psu fuente hilos anschluss excitation fremdspeisung ps"
    " anschlussart quelle bus"
    " alimentacao alimentazione raccordement voeding",
    "network": "network net port segment com netzwerk red puerto channel lan",
    "protocol": "protocol protokoll protocolo interface comms communication schnittstelle",
    "node": "node slave station ip nodo knoten",
    "remark": "remark remarks rmk rmks note notes comment comments bemerkung bemerkungen"
    " hinweis hinweise observations observaciones observacion obs anmerkung anmerkungen"
    " notas comentario comentarios remarques remarque commentaire nota"
    " observacao observacoes osservazioni opmerking opmerkingen",
    "group": "group gruppe grupo system category categoria bereich area anlage subsystem"
    " kategorie"
    " sistema",
    "old": "old previous former last alt alte anterior prior ancien vorher legacy",
    "document": "p&id pid drawing dwg document doc sheet blatt rev revision plano zeichnung"
    " diagram hookup ppid datasheet"
    " revisao revisione revisie",
    "place": "location panel cabinet schrank tablero enclosure rack slot terminal term"
    " terminals klemme borne cable wire kabel module modul ort ubicacion marshalling jb"
    " junction card karte conductor schaltschrank armoire"
    " painel quadro",
    "maker": "manufacturer model vendor maker hersteller fabricante modelo supplier make"
    " marca fabrikat",
    "range": "range units uom bereich rango unidad einheit setpoint alarm span lrv urv"
    " messbereich scale hi lo trip hh ll unidades"
    " faixa campo",
    "percent": "% percent prozent share anteil pct porcentaje",
    "detail": "detail details field specification spec",
    "heat": "heat btu btuh kcal warme calor",
    "date": "date datum fecha issued",
    "fuse": "fuse fuses breaker mcb sicherung fusible fusibles disjoncteur",
    "aside": "weight mass gewicht peso poids kg lb lbs length lange longitud longueur width height"
    " depth dimension dimensions mm diameter size ip temperature temp pressure bar barg psi"
    " psig degc degf dn"
    " ambient ambiente umgebung priority prioritat prioridad phone"
    " delivery warranty mtbf resolution accuracy bits baud"
    " sil ch chan channel kanal canal span zero",
}
"""Concept -> words for it, folded (common practice, no source)."""

MODES: dict[str, str] = {
    "sleep": "quiescent sleep sleeping schlaf dormir asleep hibernate powerdown",
    "standby": "standby stand-by bereitschaft espera",
    "alarm": "alarm alarma alarme",
    "intermittent": "intermittent intermitente",
    "idle": "idle leerlauf reposo ralenti",
    "receive": "receive receiving rx receiver empfang empfangen recepcion listen listening",
    "active": "active aktiv activo awake wake measuring measure sampling sample",
    "hold": "hold holding halten haltestrom maintien retention",
    "transmit": "transmit transmitting tx send sending senden transmision transmission",
}
"""Mode of operation -> words for it (common practice, no source)."""
_ALSO: dict[str, tuple[str, ...]] = {}
for _concept, _words in CONCEPTS.items():
    for _word in _words.split():
        _ALSO[_word] = (*_ALSO.get(_word, ()), _concept)
_MODE_OF = {w: mode for mode, words in MODES.items() for w in words.split()}
_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])")
_ELIDED = re.compile(r"\b[dl]['’](?=[^\W\d])")
"""An article that leans on its word: "d'utilisation"."""
_STAND_BY = re.compile(r"\bstand[- ]by\b")
_CUT = re.compile(r"[^\w%#$€£°&/']+|_")


@lru_cache(maxsize=65536)
def folded(text: str) -> str:
    """Return text in small letters without accents or doubled blanks [text].

    Examples
    --------
    >>> folded("  4_to_20_mA  (Öffner) ")
    '4 to 20 ma offner'
    """
    text = text.replace("ß", "ss").replace("–", "-").replace("—", "-")
    if not text.isascii():
        text = unicodedata.normalize("NFKD", text)
        text = "".join(c for c in text if not unicodedata.combining(c))
    return " ".join(re.sub(r"[_()\[\],;:]+", " ", text.lower()).split())


@lru_cache(maxsize=16384)
def bare_letters(text: str) -> str:
    """Return text in small letters without accents, marks kept [text].

    Examples
    --------
    >>> bare_letters("0,5 h/Día")
    '0,5 h/dia'
    """
    plain = unicodedata.normalize("NFKD", text.replace("ß", "ss"))
    return "".join(c for c in plain if not unicodedata.combining(c)).lower()


def words_of(text: str) -> list[str]:
    """Return the words of a head, CamelCase and slashes parted.

    Examples
    --------
    >>> words_of("TagNumber"), words_of("Wh/Tag"), words_of("I/O TYPE")
    (['tag', 'number'], ['wh', 'tag'], ['i/o', 'type'])
    """
    text = _CAMEL.sub(" ", text.replace("ß", "ss"))
    plain = unicodedata.normalize("NFKD", text)
    plain = "".join(c for c in plain if not unicodedata.combining(c)).lower()
    plain = _STAND_BY.sub("standby", _ELIDED.sub("", plain))
    found: list[str] = []
    for piece in _CUT.split(plain):
        if not piece:
            continue
        if piece in _ALSO or "/" not in piece:
            found.append(piece.strip("'/") or piece)
        else:
            found += [part for part in piece.split("/") if part]
    return [word for word in found if word]


def concepts(words: list[str]) -> set[str]:
    """Return what the words of a head stand for."""
    found: set[str] = set()
    for word in words:
        found |= set(_ALSO.get(word, ()))
    return found


def mode_of(words: list[str]) -> str:
    """Return the mode of operation that a head names, empty without one [text]."""
    return next((_MODE_OF[word] for word in words if word in _MODE_OF), "")


def known(word: str) -> bool:
    """Return whether a word belongs to heads at all."""
    return word in _ALSO or word in _MODE_OF


TRADE = by_word(
    {
        "controller": "rtu plc sps steuerung automate automata remote_terminal_unit"
        " programmable_logic_controller controlador_logico fernwirkstation",
        "operator panel": "hmi bedienpanel bediengerat touchpanel panel_de_operador",
        "camera": "cctv kamera camara",
        "pan tilt zoom camera": "ptz",
        "radio": "funkgerat funkmodem transceiver radioenlace emisora",
        "radio modem": "radiomodem",
        "modem": "funkmodul",
        "router": "enrutador routeur",
        "cellular": "lte gsm gprs umts 3g 4g 5g mobilfunk celular",
        "satellite": "satcom satellit satelite",
        "satellite terminal dish": "vsat",
        "network switch": "netzwerkswitch netzwerk-switch ethernet_switch",
        "network": "netzwerk ethernet lan red",
        "media converter": "medienkonverter",
        "flow meter": "flowmeter durchflussmesser caudalimetro debitmetre",
        "magnetic": "magmeter electromagnetic",
        "ultrasonic": "ultraschall ultrasonico usm",
        "solenoid valve": "sov magnetventil electrovalvula",
        "gas detector": "gaswarngerat gasmelder gas_sensor detector_de_gas",
        "flame detector": "flammenmelder",
        "chromatograph": "gc gaschromatograph cromatografo",
        "actuator": "stellantrieb actuador",
        "chemical injection pump": "dosing_pump dosierpumpe dosificadora",
        "heater": "heating heizung schrankheizung calefactor",
        "fan": "ventilator lufter ventilador",
        "light": "lamp lighting leuchte beleuchtung luminaria",
        "enclosure": "cabinet kiosk schaltschrank schrank gabinete armario",
        "beacon": "strobe flasher blitzleuchte baliza",
        "obstruction light": "hindernisfeuer obstacle_light",
        "logger": "datalogger data_logger datenlogger registrador",
        "display": "anzeige indicator",
    }
)
"""Word or phrase of the trade -> words of the titles of the parts library, folded and in
the singular (common practice, no source)."""
