"""Columns that several kinds have: how labels, texts, choices, dates, losses and powers are declared."""

from __future__ import annotations

from fibrebook.records.kinds.declared import Column

FIBRE_CLASSES = ("OM1", "OM2", "OM3", "OM4", "OM5", "OS1", "OS1a", "OS2", "G.652.D", "G.657.A1", "G.657.A2", "G.657.B3")
CONNECTORS = ("LC", "SC", "ST", "FC", "E2000", "MPO")
POLISHES = ("PC", "UPC", "APC")  # of IEC 61755-3
GRADES = ("B", "C", "D", "Bm", "Cm")  # of IEC 61753-1
ENDS = ("A", "B")


def label(name: str, help: str, **more: object) -> Column:
    """Declare a label: a name that people write on things."""
    return Column(name, "label", help, **more)  # type: ignore[arg-type]


def text(name: str, help: str, **more: object) -> Column:
    """Declare free text."""
    return Column(name, "text", help, **more)  # type: ignore[arg-type]


def choice(name: str, allowed: tuple[str, ...], help: str, **more: object) -> Column:
    """Declare text that holds one of some values."""
    return Column(name, "text", help, allowed=allowed, **more)  # type: ignore[arg-type]


def date(name: str, help: str) -> Column:
    """Declare a date."""
    return Column(name, "date", help)


def loss(name: str, help: str) -> Column:
    """Declare a loss in dB, from -2 (a gainer) to 40."""
    return Column(name, "number", help, unit="dB", minimum=-2, maximum=40)


def power(name: str, help: str) -> Column:
    """Declare a power in dBm."""
    return Column(name, "number", help, unit="dBm", minimum=-60, maximum=30)


SITE = label("site", "The customer's premises that fibre joins; a short code of the firm's own.", required=True)
NOTES = text("notes", "Anything else worth knowing.")
