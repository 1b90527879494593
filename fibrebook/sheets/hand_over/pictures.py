"""Pictures of a hand-over pack: the site as a schematic, and the photos of the register made small."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import pyarrow as pa

from fibrebook.analyses.spare.site_schematic import cables_table, places_table
from fibrebook.drawings import site_schematic
from fibrebook.drawings.small_photo import small_jpeg
from fibrebook.drawings.svg import FONT
from fibrebook.errors import DamagedError, NotFoundError
from fibrebook.register.photos import photo
from fibrebook.sheets.hand_over.premises import OwnPart
from fibrebook.sheets.paper.place_codes import place_code
from fibrebook.sheets.paper.printed_text import printed
from fibrebook.sheets.paper.sections import Block, PaperSection, picture, words
from fibrebook.sheets.paper.typesetting import FONTS
from fibrebook.sheets.paper.wording import Wording
from fibrebook.sheets.site_facts import Row
from fibrebook.snapshot.snapshot import PlantSnapshot

if TYPE_CHECKING:
    from fibrebook.register import Register

SIDE = 1100  # pixels of a photo's longer side: some 170 dots an inch at half a page
LYING = 1.1  # breadth over height from which a picture lies better on its side


def schematic_section(
    seen: PlantSnapshot, tables: dict[str, pa.Table], site: str, part: OwnPart | None, w: Wording
) -> PaperSection:
    """Return the site's schematic, as the screens draw it, of the part that is told."""
    places, cables = places_table(tables).to_pylist(), cables_table(seen.network).to_pylist()
    if part is not None:
        cables = [c for c in cables if c["cable"] in part.cables]
        places = [p if p["label"] in part.own else p | {"premises": None} for p in places]
        places = [p for p in places if p["label"] in part.own | part.ends]
    heading, code = w.say("Site schematic"), place_code(site)
    if not places:
        return PaperSection(heading, code)
    drawn = site_schematic(places, cables, printed(site, 80))
    svg = drawn.svg.replace(FONT.replace("'", "&#39;"), FONTS[0]).replace(FONT, FONTS[0])
    lies = drawn.width > LYING * drawn.height
    return PaperSection(heading, code, [picture(svg.encode(), "svg", share=0.88)], landscape=lies)


def photos_section(reg: Register, site: str, rows: Sequence[Row], w: Wording) -> PaperSection:
    """Return the photos of a site with what is to be seen; one that cannot be shown says so."""
    blocks: list[Block] = []
    for row in rows:
        caption = ". ".join(printed(row[c]) for c in ("what", "where", "taken_on") if row[c])
        try:
            small = small_jpeg(photo(reg, row["file"]), SIDE)
        except (NotFoundError, DamagedError):
            small = b""
        if small:
            blocks.append(picture(small, "jpg", caption, share=0.42))
        else:
            blocks.append(words(w.say("{caption}: this photo cannot be shown", caption=caption or row["photo"])))
    return PaperSection(w.say("Photos"), place_code(site, "photos"), blocks)
