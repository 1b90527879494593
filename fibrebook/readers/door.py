"""Our own readers of files and of cells of a list, brought in by the door that plugins use."""

from __future__ import annotations

from collections.abc import Iterable

from fibrebook.plugins import CellReader, hookimpl

CELLS = "fibrebook.readers.lists.cell_by_role"
OUR_CELL_READERS = (
    CellReader("core", f"{CELLS}:core_said", "Read numbers of cores, or a core by its colour."),
    CellReader("cable_core", f"{CELLS}:cable_core_said", "Read a cable and cores of it."),
    CellReader("tube", f"{CELLS}:tube_said", "Read a tube by its number or colour."),
    CellReader("tube_core", f"{CELLS}:tube_core_said", "Read a tube and a core in it."),
    CellReader("core_pair", f"{CELLS}:core_pair_said", "Read two colours, of two cores."),
    CellReader("core_colour", f"{CELLS}:colour_said", "Read a colour, of a core or of a tube."),
    CellReader("tube_colour", f"{CELLS}:colour_said", "Read a colour, of a core or of a tube."),
    CellReader("panel_port", f"{CELLS}:panel_port_said", "Read a panel and ports of it."),
    CellReader("port", f"{CELLS}:port_said", "Read labels of ports."),
    CellReader("core_count", f"{CELLS}:count_said", "Read how many cores there are, or in each tube."),
    CellReader("cores_per_tube", f"{CELLS}:count_said", "Read how many cores there are, or in each tube."),
    CellReader("length_m", f"{CELLS}:length_said", "Read a length in metres."),
    CellReader("loss_db", f"{CELLS}:loss_said", "Read a loss in dB."),
    CellReader("fibre_class", f"{CELLS}:fibre_class_said", "Read a fibre class."),
    CellReader("condition", f"{CELLS}:condition_said", "Read the condition of a core."),
    CellReader("remark", f"{CELLS}:remark_said", "Read a note; one that may say more is not taken for a note."),
    CellReader("position", f"{CELLS}:position_said", "Read a position on an adaptor."),
)


@hookimpl
def cell_readers() -> Iterable[CellReader]:
    """Give our readers, one for each kind of value in a cell."""
    return OUR_CELL_READERS


@hookimpl
def file_reader(name: str, head: bytes) -> str | None:
    """Take whatever no plugin takes: a workbook or .csv files, or a refusal in words."""
    return "fibrebook.readers.bring_in.any_file:take_workbook"
