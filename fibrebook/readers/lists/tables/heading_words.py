"""Words that stand in the headings and titles of lists, in several languages, and what each speaks of.

Common practice, no source: words and abbreviations of the trade and of office life.
"""

from __future__ import annotations

import re
from functools import lru_cache

# What is spoken of -> words for it; English first, then German, French, Spanish, Italian, Dutch.
SPEAKS_OF: dict[str, str] = {
    "site": "site premises property customer standort liegenschaft kunde lieu sitio sede locatie",
    "cable": "cable cables kabel leitung câble cable/s cavo cavi",
    "core": "core cores ader adern fibra fibras fibre fibres fiber fibers faser fasern brin strand strands vezel vezels"
    " fo lwl f.o. kern",
    "tube": "tube tubes buffer ring rings bündel buendel bündelader tubo module unit bundle loose",
    "colour": "colour colours color colors col clr farbe farben couleur couleurs colore kleur farbcode",
    "panel": "panel panels enclosure frame odf box closure pp patchpanel patchfeld wallbox verteiler tiroir bandeau"
    " termination housing muffe spleissbox kassettenträger rack-panel",
    "port": "port ports adaptor adapter adaptors socket outlet puerto porta poort anschluss buchse",
    "position": "position pos side seite",
    "tray": "tray trays cassette kassette bandeja",
    "slot": "slot slots",
    "splice": "splice splices spliced spleiss spleiß épissure empalme",
    "a": "a from von near local here de da van start origin départ depart source",
    "b": "b to nach bis far remote there à zu destination ziel arrivée arrivee end2",
    "end": "end ende side extrémité extremo bout",
    "count": "count qty quantity total size anzahl nombre cantidad numero aantal how many number_of",
    "per": "per je par por each",
    "length": "length len metres meters metre meter m länge laenge longueur longitud lengte lunghezza distance",
    "class": "class type grade typ kategorie category standard",
    "connector": "connector conn stecker connecteur conector plug",
    "date": "date dated datum fecha data when on",
    "by": "by engineer tech technician initials installer tester von_wem name_of",
    "loss": "loss losses attenuation db dämpfung daempfung il atténuation attenuation/db perte",
    "wavelength": "wavelength nm lambda λ wellenlänge",
    "tested": "test tested measured gemessen messung",
    "installed": "installed pulled laid fitted verlegt",
    "result": "result status state condition zustand ok pass verdict health ergebnis état estado",
    "reserved": "reserved reserviert réservé reservado",
    "use": "use used usage service services circuit purpose serves feeds function dienst verwendung uso goes belegt"
    " belegung allocation allocated connected",
    "remark": "remark remarks note notes comment comments bemerkung bemerkungen remarque remarques notas observaciones"
    " notiz hinweis opmerking info",
    "equipment": "switch equipment device router converter gerät geraet equipo apparatus",
    "interface": "interface sfp transceiver optic gbic schnittstelle",
    "cord": "cord jumper patchcord patchlead lead patchkabel patch",
    "location": "location building room rack cabinet floor ort gebäude raum schrank salle armoire cuarto",
    "number": "no no. nr nr. number num id ref reference label name # nummer numéro numero n° nº bezeichnung tag named",
    "item": "item line row pos. lfd lfd. s/no s.no sno index zeile",
    "route": "route path duct way trasse weg",
    "sheath": "sheath jacket armour armoured",
}  # fmt: skip
NOISE = {"of", "the", "at", "and", "in", "per", "der", "des", "du", "la", "le", "&", "for", "is", "each", "(s)"}
TOTALS = ("total", "totals", "sum", "summe", "gesamt", "subtotal", "sub-total", "grand total", "suma", "totaal")
LEGENDS = (
    "legend",
    "key",
    "legende",
    "légende",
    "leyenda",
    "abbreviations",
    "abkürzungen",
    "colour key",
    "key to colours",
)
_WORD = re.compile(r"\S+")
_SPOKEN = {word: concept for concept, words in SPEAKS_OF.items() for word in words.split()}
_JOINED = {"patch panel": "panel", "wall box": "panel", "splice box": "panel", "joint box": "panel",
           "patch lead": "cord",
           "patch cord": "cord", "f o": "core", "s no": "item", "loose tube": "tube", "no of": "count",
           "number of": "count", "how many": "count", "connected to": "use", "goes to": "use", "used for": "use",
           "used by": "use", "patched to": "use", "made off": "end", "media converter": "equipment"}  # fmt: skip


@lru_cache(maxsize=20_000)
def spoken(text: str) -> tuple[frozenset[str], tuple[str, ...]]:
    """Return what a heading speaks of, and its words that are not known here, in order and as they are written."""
    plain = re.sub(r"[_/\\\-–()\[\]:,;.]+", " ", text).strip()
    folded = f" {' '.join(plain.casefold().split())} "
    found: set[str] = set()
    for words, concept in _JOINED.items():
        if f" {words} " in folded:
            found.add(concept)
            folded = folded.replace(f" {words} ", "  ")
    unknown = []
    for word in _WORD.findall(folded):
        bare = word.rstrip(".")
        concept = _SPOKEN.get(word) or _SPOKEN.get(bare) or _compound(bare, found)
        if concept:
            found.add(concept)
        elif bare not in NOISE:
            unknown.append(bare)
    return frozenset(found), tuple(unknown)


def _compound(word: str, found: set[str]) -> str:
    """Take a German compound apart: Aderfarbe speaks of core (laid into `found`) and of colour (returned)."""
    for cut in range(3, len(word) - 2):
        first, last = _SPOKEN.get(word[:cut]), _SPOKEN.get(word[cut:])
        first = first or (_SPOKEN.get(word[: cut - 1]) if word[cut - 1] in "sn" else None)
        if first and last and len(word[cut:]) > 2:
            found.add(first)
            return last
    return ""


@lru_cache(maxsize=20_000)
def says_total(text: str) -> bool:
    """Whether a cell begins a line of totals."""
    plain = text.casefold().strip(" :.=")
    return any(plain == word or plain.startswith((f"{word} ", f"{word}:")) for word in TOTALS)


@lru_cache(maxsize=20_000)
def says_legend(text: str) -> bool:
    """Whether a cell begins a legend."""
    return text.casefold().strip(" :.") in LEGENDS
