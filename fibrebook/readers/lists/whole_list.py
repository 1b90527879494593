"""A whole list from sheets to records, questions and every cell's fate: one pass over what is said of it so far."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fibrebook.readers.files.limits import Position
from fibrebook.readers.found.found_sheet import FoundBook
from fibrebook.readers.lists.asking import LEAVE_OUT, NOTE, Asking, Said, means_no
from fibrebook.readers.lists.columns import Column
from fibrebook.readers.lists.core_numbers import CableCores, number_cores
from fibrebook.readers.lists.doubts.cable_ends import ends_of
from fibrebook.readers.lists.doubts.names import one_spelling
from fibrebook.readers.lists.doubts.sequences import out_of_sequence
from fibrebook.readers.lists.facts import Facts, lay_cable, lay_item
from fibrebook.readers.lists.lines import ENDS, Cell, Item
from fibrebook.readers.lists.sentences import example_of, sentence
from fibrebook.readers.lists.sheet_by_sheet import LEFT_OUT, QUESTION, USED, SheetBySheet
from fibrebook.readers.lists.tables.block import Block
from fibrebook.readers.lists.tables.grid import Grid


@dataclass
class WholeList:
    """What became of a list: records, questions, and for each cell its fate and the rule or question behind it."""

    facts: Facts
    asking: Asking
    grids: dict[str, Grid]
    fates: dict[str, dict[Position, tuple[str, str]]]
    blocks: list[tuple[Block, list[Column], str]]


def read_whole(book: FoundBook, said: Said, extra: Mapping[str, Sequence[str]] | None = None) -> WholeList:
    """Read a list as far as what was said of it allows.

    Parameters
    ----------
    extra : the firm's own colour codes
    """
    doing = SheetBySheet(Asking(said))
    grids = {sheet.name: Grid.of(sheet) for sheet in book.sheets}
    for sheet in book.sheets:
        doing.sheet(sheet, grids[sheet.name])
    doing.site(book)
    one_spelling(doing.items, doing.asking)
    facts = Facts(doing.asking)
    _confirm(doing)
    _lay(doing, facts, extra)
    return WholeList(facts, doing.asking, grids, _ledger(doing, grids), doing.blocks)


def _confirm(doing: SheetBySheet) -> None:
    """Ask for each shape of table whether it was understood; of one that was not, every line waits."""
    by_key: dict[str, list[Item]] = {}
    for item in doing.items:
        by_key.setdefault(doing.blocks[item.block][2], []).append(item)
    for key, items in by_key.items():
        if any(c.asked for i in items for c in doing.blocks[i.block][1]):
            continue  # its columns are asked first
        shown = example_of([i for i in items if not i.values.get("waits")] or items)
        block = doing.blocks[shown.block][0]
        name = block.grid.sheet.name
        place = f"{name!r}, {'column' if block.turned else 'row'} {shown.line}"
        lines = len({(i.block, i.line) for i in items})
        first = [(name, block.at(shown.line, block.fields[0]))]
        text = sentence(shown, place, lines)
        answer = doing.asking.ask(key, first, text, text, ("yes", "no"), waits=False)
        if answer and means_no(answer):
            cells = [c for i in items for c in i.every]
            what = f"The table at {place} is not read right: say what its columns are, or leave it out."
            if doing.asking.ask(f"not so: {key}", cells, text, what, (LEAVE_OUT,)) == LEAVE_OUT:
                doing.left_out |= set(cells)
            for item in items:
                item.values["waits"] = True


def _lay(doing: SheetBySheet, facts: Facts, extra: Mapping[str, Sequence[str]] | None) -> None:
    cables: dict[tuple[str, str], CableCores] = {}
    for item in doing.items:
        if item.values.get("cable") and not item.values.get("waits"):
            key = (str(item.values["site"]), str(item.values["cable"]))
            cables.setdefault(key, CableCores(*key, [])).items.append(item)
    many = len({site for site, _ in cables}) > 1
    for cable in cables.values():
        cable.name = f"{cable.cable} of {cable.site}" if many else cable.cable
        number_cores(cable, doing.asking, extra)
    out_of_sequence(doing.items, doing.asking)
    for item in doing.items:
        if item.values.get("site"):
            facts.lay("sites", {"site": item.values["site"]}, [item.cells.get("site") or item.every[0]], item.block)
    for cable in cables.values():
        cable.waiting = {int(i.values["core"]) for i in cable.items if i.values.get("core")}
        cable.items = [i for n, i in enumerate(cable.items) if n not in cable.doubtful and not i.values.get("waits")]
        cable.doubtful = set()
        if not cable.items:
            continue
        ends = ends_of(cable, doing.two_ended, doing.asking)
        if not lay_cable(facts, cable, ends):
            continue
        for n, item in enumerate(cable.items):
            if n not in cable.doubtful:
                lay_item(facts, cable.site, item, _places(item))
    for item in doing.items:
        if not item.values.get("cable") and not item.values.get("waits"):
            lay_item(facts, str(item.values.get("site", "")), item, _places(item))


def _places(item: Item) -> dict[str, str]:
    return {e: str(item.values[f"{e}_enclosure"]) for e in ENDS if item.values.get(f"{e}_enclosure")}


def _ledger(doing: SheetBySheet, grids: Mapping[str, Grid]) -> dict[str, dict[Position, tuple[str, str]]]:
    """Give every cell of every sheet its fate; one that nothing tells of is a question, never left out."""
    nothing, line, said = ("", ""), (USED, "line"), (LEFT_OUT, "said")
    fates = {name: dict.fromkeys(grid.texts, nothing) for name, grid in grids.items()}
    for (name, at), fate in doing.fates.items():
        fates[name][at] = fate
    for item in doing.items:
        for name, at in item.every:
            fates[name][at] = line
    for name, at in doing.left_out:
        fates[name][at] = said
    for (name, at), key in doing.asking.waiting().items():
        if name in fates:  # a question of a line may be of no cell
            fates[name][at] = (QUESTION, key)
    for name, grid in grids.items():
        own = fates[name]
        lost: list[Position] = [at for at in grid.texts if own[at] is nothing]
        if lost:
            what = (
                f"{len(lost)} cell(s) of {name!r} were not understood, such as {grid.text(lost[0])!r}: what are they?"
            )
            cells: list[Cell] = [(name, at) for at in lost]
            key = f"not understood in {name!r}"
            answer = doing.asking.ask(key, cells, grid.text(lost[0]), what, (LEAVE_OUT, NOTE))
            own |= dict.fromkeys(lost, (QUESTION, key) if answer is None else said)
    return fates
