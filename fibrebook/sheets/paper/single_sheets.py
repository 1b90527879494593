"""Single sheets as PDF, at the plugin door: each takes a register, a site, and what it is of."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from fibrebook.analyses.visits.about_site import open_snags
from fibrebook.errors import InputError, NotFoundError
from fibrebook.sheets.paper import plant_sheets
from fibrebook.sheets.paper.sections import PaperSection
from fibrebook.sheets.paper.typesetting import PaperLook, typeset
from fibrebook.sheets.site_facts import SiteFacts, site_facts
from fibrebook.snapshot.snapshot import check_site
from fibrebook.words.nearest import did_you_mean

if TYPE_CHECKING:
    from fibrebook.register import Register


def core_schedule(reg: Register, site: str, of: Sequence[str] = (), look: PaperLook | None = None) -> bytes:
    """Return the core schedules of the cables named in `of`, or of all cables of a site, as a PDF.

    Raises
    ------
    NotFoundError : there is no such site or cable; InputError : there is nothing to tell
    """
    facts, look = site_facts(reg, site), look or PaperLook()
    by_label = {c.row["cable"]: c for c in facts.cables}
    picked = _picked(of, by_label, "cable", site)
    found = [plant_sheets.core_schedule(site, by_label[label], look.wording) for label in picked]
    return _set(reg, site, "Core schedule", found, look)


def tray(reg: Register, site: str, of: Sequence[str] = (), look: PaperLook | None = None) -> bytes:
    """Return the trays of a site on A5; `of` names an enclosure, and perhaps one tray of it.

    Raises
    ------
    NotFoundError : there is no such site, enclosure or tray; InputError : nothing is spliced there
    """
    facts, look = site_facts(reg, site), look or PaperLook()
    by_label = {e.row["enclosure"]: e for e in facts.enclosures}
    found = []
    for label in _picked(of[:1], by_label, "enclosure", site):
        enclosure = by_label[label]
        for name in _picked(of[1:], enclosure.trays, f"tray of {label} with splices", site):
            found.append(plant_sheets.tray_sheet(site, enclosure, name, look.wording))
    return _set(reg, site, "Trays", found, look)


def panel_schedule(reg: Register, site: str, of: Sequence[str] = (), look: PaperLook | None = None) -> bytes:
    """Return the panel schedules of the enclosures named in `of`, or of all of a site, as a PDF.

    Raises
    ------
    NotFoundError : there is no such site or enclosure; InputError : none of them has ports
    """
    facts, look = site_facts(reg, site), look or PaperLook()
    by_label = {e.row["enclosure"]: e for e in facts.enclosures}
    picked = _picked(of, by_label, "enclosure", site)
    found = [plant_sheets.panel_schedule(site, by_label[label], look.wording) for label in picked]
    return _set(reg, site, "Panel schedule", found, look)


def snag_list(reg: Register, site: str, of: Sequence[str] = (), look: PaperLook | None = None) -> bytes:
    """Return the open snags of a site as a PDF; `of` names some of them.

    Raises
    ------
    NotFoundError : there is no such site or open snag; InputError : none is open
    """
    check_site(reg, site)
    look = look or PaperLook()
    by_label = {s["snag"]: s for s in open_snags(reg.tables(site, names=("snags",))["snags"].to_pylist())}
    picked = [by_label[label] for label in _picked(of, by_label, "open snag", site)]
    return _set(reg, site, "Snags", [plant_sheets.snag_list(site, picked, look.wording)], look)


def cabinet_door(reg: Register, site: str, of: Sequence[str] = (), look: PaperLook | None = None) -> bytes:
    """Return a sheet for each cabinet's door, to be read from 2 m; `of` names locations.

    Raises
    ------
    NotFoundError : there is no such site or location; InputError : nothing is recorded in them
    """
    look = look or PaperLook()
    facts, places = site_facts(reg, site), reg.tables(site, names=("locations",))["locations"].to_pylist()
    by_label = {row["location"]: row for row in places}
    found = []
    for label in _picked(of, by_label, "location", site):
        here = [row for row in _standing(facts) if row["location"] == label]
        homes = {e.row["enclosure"]: e.row["location"] for e in facts.enclosures}
        found.append(plant_sheets.cabinet_sheet(site, by_label[label], here, facts.cables, homes, look.wording))
    return _set(reg, site, "Cabinet door", found, look)


def _standing(facts: SiteFacts) -> list[dict[str, object]]:
    return [*(e.row for e in facts.enclosures), *(row for row, _ in facts.equipment)]


def _picked(of: Sequence[str], known: Iterable[str], what: str, site: str) -> list[str]:
    """The labels asked for, each of which must be known; all that are known where none is asked for."""
    labels = list(known)
    for label in of:
        if label not in labels:
            raise NotFoundError(f"{site} has no {what} {label!r}; {did_you_mean(label, labels)}")
    return list(of) or labels


def _set(reg: Register, site: str, title: str, found: Sequence[PaperSection], look: PaperLook) -> bytes:
    if not any(s.blocks for s in found):
        raise InputError(f"there is nothing at {site} that this sheet would tell")
    return typeset(reg, site, look.wording.say(title), found, look)
