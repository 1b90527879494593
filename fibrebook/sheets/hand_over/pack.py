"""The hand-over pack: cover, contents, scope, schematic, schedules, tests, photos, snags, cautions, warranty."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fibrebook.errors import InputError, place_in_words
from fibrebook.regular_files import read_regular
from fibrebook.sheets.hand_over.pictures import photos_section, schematic_section
from fibrebook.sheets.hand_over.premises import OwnPart, of_part, part_of, told_of_part
from fibrebook.sheets.hand_over.scope import scope_section
from fibrebook.sheets.hand_over.tests_made import read_calibrations, tests_section
from fibrebook.sheets.paper import plant_sheets
from fibrebook.sheets.paper.place_codes import place_code
from fibrebook.sheets.paper.sections import Block, PaperSection, caution, facts, whole_text
from fibrebook.sheets.paper.typesetting import PaperLook, typeset
from fibrebook.sheets.paper.wording import Wording
from fibrebook.sheets.site_facts import SiteFacts, site_facts
from fibrebook.sheets.written import free_place, write_sheet
from fibrebook.snapshot.snapshot import PlantSnapshot

if TYPE_CHECKING:
    from fibrebook.register import Register

MOST_BYTES = 200_000  # of a warranty: some 60 pages
CAUTIONS = (
    "Laser light: what is in a fibre cannot be seen and can blind. Never look into a fibre or port; use a meter or "
    "card, and switch off first where you can.",
    "Shards: glasses on, scraps into a marked container, no food or drink at the bench.",
    "Solvent and arc: keep isopropanol away from the splicer's arc and from flame; never splice where there may be "
    "flammable gas.",
    "Mains, ladders, ducts: work within your training. Local codes, the site's rules and licensed practice come first, "
    "always.",
)


@dataclass(frozen=True)
class Asked:
    """What a pack is to tell besides the plant.

    Attributes
    ----------
    since, until : the period of the scope: commit number, time or day; both None = no scope
    premises : one customer's premises of a shared site; personal : whether address, contact and initials are told
    warranty : path of a text file; calibrations : path of a .csv with the columns instrument and calibrated_on
    """

    since: Any = None
    until: Any = None
    premises: str | None = None
    personal: bool = True
    warranty: Path | str | None = None
    calibrations: Path | str | None = None


def hand_over(
    reg: Register, site: str, path: Path | str, *, since: Any = None, until: Any = None, premises: str | None = None,
    personal: bool = True, warranty: Path | str | None = None, calibrations: Path | str | None = None,
    look: PaperLook | None = None, force: bool = False,
) -> Path:  # fmt: skip
    """Write the hand-over pack of a site as a PDF and return its path.

    Parameters
    ----------
    since, until : the period of its scope, from the history: commit number, time or day; without both there is none
    premises : of a shared site only what stands on these premises, and the cables that end there; snags and photos
        whose `where` names none of it are left out
    personal : whether address, contact and initials are told
    warranty : a text file in UTF-8; calibrations : a .csv with the columns instrument and calibrated_on
    look : paper, words and tags; force : write over what is there

    Raises
    ------
    NotFoundError : there is no such site, premises or commit; InputError : a file cannot be read or written;
    FibrebookError : the typesetter is not installed
    """
    free_place(path, force)
    asked = Asked(since, until, premises, personal, warranty, calibrations)
    return write_sheet(pack_of(reg, site, asked, look or PaperLook()), path, force)


def pack_of(reg: Register, site: str, asked: Asked, look: PaperLook) -> bytes:
    """Return the PDF of a hand-over pack."""
    w = look.wording
    warranty = [] if asked.warranty is None else _paragraphs(asked.warranty)
    calibrated: dict[str, dt.date] = {} if asked.calibrations is None else read_calibrations(asked.calibrations)
    tables, seen = reg.tables(site), PlantSnapshot.of(reg, site)
    told, part = site_facts(reg, site, seen), None
    if asked.premises is not None:
        part = part_of(told, tables["locations"].to_pylist(), asked.premises, w)
        told = told_of_part(told, part)
    settled = [s for s in tables["snags"].to_pylist() if s["done_on"] is not None]
    scope = (
        []
        if asked.since is None and asked.until is None
        else [scope_section(reg, site, asked.since, asked.until, part, w)]
    )
    inner = [
        *scope,
        schematic_section(seen, tables, site, part, w),
        *_schedules(site, told, w),
        tests_section(seen, site, calibrated, part, asked.personal, w),
        photos_section(reg, site, of_part(tables["photos"].to_pylist(), part), w),
        plant_sheets.snag_list(site, told.snags, w),
        plant_sheets.snag_list(site, of_part(settled, part), w, "Settled snags"),
        PaperSection(w.say("Cautions"), place_code(site), _cautions(told, w)),
        PaperSection(w.say("Warranty"), place_code(site), [whole_text(p) for p in warranty]),
    ]
    front = [_cover(reg, site, told, asked, part, w)]
    front.append(PaperSection(w.say("Contents"), place_code(site), [{"kind": "contents"}], in_contents=False))
    return typeset(reg, site, w.say("Hand-over"), [*front, *inner], look)


def _schedules(site: str, told: SiteFacts, w: Wording) -> list[PaperSection]:
    cables = [plant_sheets.core_schedule(site, cable, w, notes=False) for cable in told.cables]
    states = plant_sheets.say_of_states(w) if cables else []
    return [
        PaperSection(w.say("How to read the schedules"), place_code(site), states),
        *cables,
        *(plant_sheets.trays_of(site, enclosure, w) for enclosure in told.enclosures),
        *(plant_sheets.panel_schedule(site, enclosure, w) for enclosure in told.enclosures),
    ]


def _cover(reg: Register, site: str, told: SiteFacts, asked: Asked, part: OwnPart | None, w: Wording) -> PaperSection:
    about, personal = told.about, asked.personal and part is None
    below = w.say("Hand-over of the fibre plant")
    title: Block = {"kind": "title", "text": about["name"] or site, "below": below}
    day = str(reg.committed_utc)[:10]
    counts = {
        "cables": len(told.cables),
        "cores": sum(len(c.cores) for c in told.cables),
        "enclosures": len(told.enclosures),
    }
    pairs = [
        (w.say("Site"), site),
        (w.say("Customer"), about["customer"] if part is None else ""),
        (w.say("Premises"), asked.premises),
        (w.say("Address"), about["address"] if personal else ""),
        (w.say("Contact"), about["contact"] if personal else ""),
        (w.say("By"), reg.name),
        (w.say("As of"), w.say("{day}, commit {commit} of the register", day=day, commit=reg.commit)),
        (w.say("Plant"), w.say("cables: {cables}, cores: {cores}, panels and closures: {enclosures}", **counts)),
    ]
    blocks = [title, *facts(pairs)]
    return PaperSection(w.say("Hand-over"), place_code(site), blocks, in_contents=False, heading_shown=False)


def _cautions(told: SiteFacts, w: Wording) -> list[Block]:
    here = facts([(w.say("Hazards here"), told.about["hazards"])])
    return [*(caution(w.say(text)) for text in CAUTIONS), *here]


def _paragraphs(path: Path | str) -> Sequence[str]:
    """The paragraphs of a text file, which blank lines part."""
    with place_in_words(f"the warranty {path} cannot be read"):
        data = read_regular(Path(path), MOST_BYTES)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"the warranty {path} is no text in UTF-8: {error}") from None
    return [" ".join(lines.split()) for lines in text.replace("\r\n", "\n").split("\n\n") if lines.strip()]
