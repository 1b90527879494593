"""A sheet taken apart into its tables: headings, titles, lines, totals and legends of many shapes; no cell is lost."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fibrebook.readers.found.open_found import sheets_of_text
from fibrebook.readers.lists.tables.blocks import SheetBlocks, blocks_of
from fibrebook.readers.lists.tables.grid import TextGrid
from fibrebook.readers.lists.tables.roles import heading_of, with_ends


def parted(*rows: str) -> SheetBlocks:
    """A sheet of rows whose cells stand between upright lines."""
    return blocks_of(TextGrid.of(sheets_of_text("\n".join(row.replace("|", "\t") for row in rows)).sheets[0]))


@pytest.mark.parametrize(
    ("heading", "role", "end"),
    [
        ("Core No", "core", ""), ("Aderfarbe", "core_colour", ""), ("Tube/Core", "tube_core", ""), ("Panel/Port", "panel_port", ""),
        ("Port A", "port", "a"), ("Far end Port", "port", "b"), ("1310 nm (dB)", "loss_db", ""), ("No of cores", "core_count", ""),
        ("Goes to", "remark", ""), ("Fibre type", "fibre_class", ""), ("Patchfeld", "enclosure", ""), ("blue", "", ""), ("P1", "", ""),
    ],
)  # fmt: skip
def test_headings_by_their_words(heading: str, role: str, end: str) -> None:
    """Words of the trade in several languages, joined or not."""
    assert (heading_of(heading).role, heading_of(heading).end) == (role, end)


def test_ends_by_order_where_headings_do_not_say_them() -> None:
    """The first panel and port are end A's, the second end B's; a third is asked."""
    heads = [heading_of(h) for h in ("Panel", "Port", "Panel", "Port", "Port")]
    assert with_ends(heads) == ["a_enclosure", "a_port", "b_enclosure", "b_port", ""]


def test_titles_hold_from_where_they_stand() -> None:
    """A title above, and one between the lines, are no lines."""
    found = parted("Site: Tannery", "", "Core|Colour|Port", "1|BL|1", "Cable C2", "1|BL|1", "Total|2|")
    (block,) = found.blocks
    assert block.lines == [4, 6] and block.titles == {(1, 1): 1, (5, 1): 5}
    assert found.fates == {(7, 1): "total", (7, 2): "total"}


def test_tables_beside_and_below_one_another() -> None:
    """Two beside one another, with and without a gap, and a third below."""
    found = parted(
        "Core|Colour|Port||Core|Colour|Port", "1|bl|1||7|rd|7", "", "Core|Port|Remark|Core|Port|Remark", "1|1||3|3|x"
    )
    assert [(b.first, b.lines) for b in found.blocks] == [((1, 1), [2]), ((1, 5), [2]), ((4, 1), [5]), ((4, 4), [5])]


def test_a_list_laid_across_is_turned() -> None:
    """Headings one below another: its lines are columns; a second band is a table of its own."""
    found = parted("Core|1|2|3", "Port|1|2|3", "", "Core|4|5|6", "Port|4|5|6")
    assert [(b.turned, b.lines, b.text(b.lines[0], b.fields[0])) for b in found.blocks] == [
        (True, [2, 3, 4], "1"),
        (True, [2, 3, 4], "4"),
    ]


def test_headings_of_two_rows_are_joined() -> None:
    """What stands above runs on to the right."""
    (block,) = parted("|End A||End B|", "Core|Panel|Port|Panel|Port", "1|P1|1|WB1|1").blocks
    assert block.heads == {1: "Core", 2: "End A / Panel", 3: "End A / Port", 4: "End B / Panel", 5: "End B / Port"}


def test_lines_without_headings_are_a_table_too() -> None:
    """Its columns are to be said; it is not passed over."""
    (block,) = parted("C1|1|P1/1", "C1|2|P1/2").blocks
    assert block.heads == {} and block.lines == [1, 2] and block.fields == [1, 2, 3]


def test_a_legend_ends_where_a_table_begins() -> None:
    """A legend takes its two columns, never a table."""
    found = parted("Legend", "n/t|not tested", "Core|Port", "1|1")
    assert set(found.fates.values()) == {"legend"} and len(found.fates) == 3
    assert [b.lines for b in found.blocks] == [[4]]


CELL = st.sampled_from(
    ["", "", "Core", "Port", "Cable", "Total", "Legend", "1", "2", "blue", "Cable C1", "x", "P1/1", "Site: S"]
)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.lists(CELL, min_size=1, max_size=6), min_size=1, max_size=9))
def test_every_cell_is_in_one_place_only(rows: list[list[str]]) -> None:
    """Whatever the sheet: each cell is a heading, in a line, a title, outside by a named rule, or a stray."""
    grid = TextGrid.of(sheets_of_text("\n".join("\t".join(r) for r in [["-", "-"], *rows])).sheets[0])
    found = blocks_of(grid)
    lines = [at for b in found.blocks for at in b.cells()]
    inside = set(lines)
    heads = [at for b in found.blocks for at in b.head]
    assert len(lines) == len(set(lines)) and len(heads) == len(set(heads))
    titles = {at for b in found.blocks for at in b.titles}
    parts = [inside, set(heads), titles, set(found.fates), set(found.strays)]
    assert set().union(*parts) == set(grid.texts)
    assert sum(map(len, parts)) == len(grid.texts)
