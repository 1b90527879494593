"""One sheet of a list after the other: taken apart, its titles and lines read, what they lack asked."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from fibrebook.readers.found.found_sheet import FoundBook, FoundSheet
from fibrebook.readers.lists.asking import LEAVE_OUT, Asking, Question, means_yes
from fibrebook.readers.lists.columns import Column, columns_of
from fibrebook.readers.lists.doubts.marks import READ, ask_about_looks, blocked_cells
from fibrebook.readers.lists.lines import ENDS, Cell, Item, LineReader
from fibrebook.readers.lists.sentences import sentence_key
from fibrebook.readers.lists.tables.block import Block
from fibrebook.readers.lists.tables.blocks import SheetBlocks, blocks_of
from fibrebook.readers.lists.tables.grid import Grid
from fibrebook.readers.lists.tables.roles import heading_of
from fibrebook.readers.lists.titles import parts_of, read_title

USED, LEFT_OUT, QUESTION = "used", "left out", "question"
EXPLAINS = re.compile(r"[^=\n]{1,14}\s*=\s*\S.*", re.DOTALL)
NO_NAME = re.compile(r"(?i)(sheet|tabelle|feuil|hoja|foglio|blad|table|list|pasted)\s*\d*")
CORE_ROLES = {"core", "tube_core", "cable_core", "core_colour"}


@dataclass
class SheetBySheet:
    """One pass over a list's sheets; see `read_whole`."""

    asking: Asking
    fates: dict[Cell, tuple[str, str]] = field(default_factory=dict)
    blocks: list[tuple[Block, list[Column], str]] = field(default_factory=list)
    items: list[Item] = field(default_factory=list)
    left_out: set[Cell] = field(default_factory=set)
    two_ended: set[int] = field(default_factory=set)

    def sheet(self, sheet: FoundSheet, grid: Grid) -> None:
        """Take one sheet apart and read its lines."""
        if sheet.hidden and grid.texts:
            cells = [(sheet.name, at) for at in grid.texts]
            what = f"The sheet {sheet.name!r} is hidden: is it to be read?"
            answer = self.asking.ask(f"hidden sheet {sheet.name!r}", cells, sheet.name, what, (LEAVE_OUT, READ))
            if answer != READ and not (answer and means_yes(answer)):
                self.left_out |= set(cells) if answer else set()
                return
        if not grid.texts:
            return
        rows = {(r, 0): what for (name, r), what in self.asking.said.rows.items() if name == sheet.name}
        found = blocks_of(grid, rows)
        waits, out = blocked_cells(found, self.asking)
        self.left_out |= out
        rules = {"said": (LEFT_OUT, "said"), "heading": (USED, "heading")}
        for at, what in found.fates.items():
            self.fates[sheet.name, at] = rules.get(what, (LEFT_OUT, what))
        self._strays(found)
        ask_about_looks(found, self.asking)
        asked_for = (
            {cell: q for q in reversed(list(self.asking.questions.values())) for cell in q.cells} if waits else {}
        )
        for block in found.blocks:
            if waits or out:
                self._hold_back(block, waits, out, asked_for)
            if block.lines:
                self._block(block)

    def _hold_back(self, block: Block, waits: set[Cell], out: set[Cell], asked_for: dict[Cell, Question]) -> None:
        """Take from a table the lines of which a cell waits or is left out; `asked_for`: cell -> its question."""
        name = block.grid.sheet.name
        blocked = {i for i in block.lines for f in block.fields if (c := (name, block.at(i, f))) in waits or c in out}
        held = [(name, block.at(i, f)) for i in sorted(blocked) for f in block.fields if block.text(i, f)]
        hold_for = next((asked_for[c] for c in held if c in waits and c in asked_for), None)
        if hold_for is not None:
            there = set(hold_for.cells)
            hold_for.cells += [c for c in held if c not in there]
        else:
            self.left_out |= set(held)
        block.lines = [i for i in block.lines if i not in blocked]

    def _strays(self, found: SheetBlocks) -> None:
        """What stands in no table: explained signs are a legend; all else is asked, sheet by sheet."""
        name = found.grid.sheet.name
        rest = []
        for at in found.strays:
            text = found.grid.text(at)
            said = self.asking.said.titles.get(text)
            if said is not None:
                self.fates[name, at] = (LEFT_OUT, "said") if said == LEAVE_OUT else (USED, "title")
            elif EXPLAINS.fullmatch(text):
                self.fates[name, at] = (LEFT_OUT, "legend")
            else:
                rest.append(at)
        if not rest:
            return
        texts = " | ".join(found.grid.text(at) for at in rest)
        told = texts if len(texts) < 200 else f"{texts[:200]}..."
        what = f"In {name!r} this stands in no table: {told}. Is it to be left out?"
        cells = [(name, at) for at in rest]
        answer = self.asking.ask(f"outside the tables of {name!r}: {told[:60]}", cells, told, what, (LEAVE_OUT,))
        if answer is not None:
            self.left_out |= set(cells)

    def _block(self, block: Block) -> None:
        sheet = block.grid.sheet.name
        number = len(self.blocks)
        roles = [heading_of(h).role for h in block.heads.values()]
        titles = {at: begins for at, begins in block.titles.items() if (sheet, at) not in self.left_out}
        tells: set[str] = set().union(*(parts_of(block.grid.text(at)) for at in titles)) if titles else set()
        needs = set() if {"cable", "cable_core"} & set(roles) or "cable" in tells else {"cable"}
        bare_ports = sum(r == "port" for r in roles) > sum(r in ("enclosure", "place", "panel_port") for r in roles)
        needs |= {"enclosure"} if bare_ports and "enclosure" not in tells else set()
        says: list[tuple[int, dict[str, tuple[str, Cell]]]] = []
        for at, begins in sorted(titles.items(), key=lambda t: (t[1], t[0])):
            parts, fate = read_title(block, at, self.asking, needs, set(roles))
            if fate and self.fates.get((sheet, at), (LEFT_OUT,))[0] == LEFT_OUT:
                self.fates[sheet, at] = (LEFT_OUT, fate) if fate in ("title", "said") else (USED, "title")
            says.append((begins, {role: (text, (sheet, at)) for role, text in parts.items()}))
        columns = columns_of(block, self.asking, tells)
        key = sentence_key(columns, sheet)
        self.blocks.append((block, columns, key))
        for at in block.head:
            self.fates.setdefault((sheet, at), (USED, "heading"))
        reader = LineReader(number, block, columns, _holder(block, says), self.asking, self.left_out)
        items = reader.items()
        known = {r for c in columns for r in [c.role] if r} | {r for _, s in says for r in s}
        if {"a_enclosure", "a_panel_port"} & known and {"b_enclosure", "b_panel_port"} & known:
            self.two_ended.add(number)
        if any(c.panel and c.role.startswith("b_") for c in columns):
            self.two_ended.add(number)
        self._complete(block, columns, items)
        self.items += items

    def _complete(self, block: Block, columns: Sequence[Column], items: Sequence[Item]) -> None:
        """Ask what lines lack: their cable, their panel, their core."""
        roles = {c.role for c in columns}
        name = block.grid.sheet.name
        of_cores = bool(CORE_ROLES & roles)
        for item in items:
            values = item.values
            has_core = any(r in values for r in ("core", "core_colour", "in_tube"))
            asked = next((c.asked for c in columns if c.asked), "")
            if asked and not has_core:
                self.asking.ask(asked, item.every, "", "", ())
                values["waits"] = True
                continue
            if has_core and "cable" not in values:
                answer = self._named_by_sheet("cable", name, block, item.every)
                if answer:
                    values["cable"], item.cells["cable"] = answer, (name, block.first)
                else:
                    values["waits"] = True
            for end in ENDS:
                if f"{end}_port" in values and not values.get(f"{end}_enclosure"):
                    heading = next((c.heading for c in columns if c.role == f"{end}_port"), "")
                    cells = [item.cells[f"{end}_port"]]
                    answer = self._named_by_sheet("panel", name, block, cells, heading)
                    if answer:
                        values[f"{end}_enclosure"] = answer
                    else:
                        values.pop(f"{end}_port")
            port = any(f"{e}_port" in values for e in ENDS)
            if of_cores and not has_core and (item.notes or item.losses or "condition" in values):
                self._without_core(item, name, block, port)
            placed = port or any(values.get(f"{e}_enclosure") for e in ENDS) or any(c.asked for c in columns)
            if item.every and not (has_core or values.get("cable") or placed or of_cores):
                what = f"A line of {name!r} names no cable, core or port: what is it?"
                self.asking.ask(f"line {item.line} of {name!r}", item.every, "", what, (LEAVE_OUT,))
                values["waits"] = True

    def _without_core(self, item: Item, name: str, block: Block, port: bool) -> None:
        """A line that says something and names no core: of a port, what is said of it has no place; else all waits."""
        if port:
            cells = [c for _, c in item.notes] + [c for _, _, c in item.losses]
            cells += [item.cells["condition"]] if "condition" in item.cells else []
            text = block.grid.text(cells[0][1])
            what = f"{text!r} stands beside a port of {name!r} on which no core is: is it to be left out?"
            if self.asking.ask(f"{text!r} beside a port without a core", cells, text, what, (LEAVE_OUT,)):
                self.left_out |= set(cells)
            return
        told = block.grid.text(item.every[0][1])
        what = f"A line of {name!r} names no core, but says {told!r}: what of it?"
        self.asking.ask(f"line {item.line} of {name!r} without a core", item.every, told, what, (LEAVE_OUT,))
        item.values["waits"] = True

    def _named_by_sheet(
        self, thing: str, name: str, block: Block, cells: Sequence[Cell], heading: str = ""
    ) -> str | None:
        where = f"{block.grid.sheet.name!r}, table at row {block.first[0]}" if len(self.blocks) > 1 else f"{name!r}"
        proposals = [] if NO_NAME.fullmatch(name) else [f"the sheet's name, {name}"]
        if thing == "cable":
            general, own = "cable is the sheet's name", f"cable of {where}"
            what = f"Neither a column nor a title of {where} names the cable: which is it?"
        else:
            general, own = "panel is the sheet's name", f"panel of the ports under {heading!r} in {where}"
            what = f"Nothing in {where} says on which panel the ports under {heading!r} are: on which?"
        answer = self.asking.said.answers.get(general)
        if answer and means_yes(answer) and proposals:
            return name
        answer = self.asking.ask(own, cells, heading, what, (*proposals, LEAVE_OUT))
        if answer == LEAVE_OUT:
            self.left_out |= set(cells)
            return None
        return name if answer and answer.startswith("the sheet's name") else answer

    def site(self, book: FoundBook) -> None:
        """Ask for the site where lines do not say it."""
        lacking = [i for i in self.items if not i.values.get("site")]
        if not lacking:
            return
        stem = re.sub(r"[_\-]+", " ", book.name.rsplit(".", 1)[0]).strip()
        what = "Nothing in the list says of which site it is: which site is it?"
        answer = self.asking.ask("site", [], book.name, what, (stem,), waits=False)
        for item in lacking:
            item.values["site"] = answer or ""


def _holder(
    block: Block, says: Sequence[tuple[int, dict[str, tuple[str, Cell]]]]
) -> Callable[[int], dict[str, tuple[str, Cell]]]:
    """Return what gives, for a line, what the titles above it say: a later one counts before an earlier one."""
    made: dict[int, dict[str, tuple[str, Cell]]] = {}

    def holds(line: int) -> dict[str, tuple[str, Cell]]:
        upto = len(says) if block.turned else sum(begins <= line for begins, _ in says)
        if upto not in made:
            laid: dict[str, tuple[str, Cell]] = {}
            for _, told in says[:upto]:
                if "cable" in told:  # another cable: what was said of the one before holds no longer
                    laid = {
                        r: v
                        for r, v in laid.items()
                        if r not in ("core_count", "fibre_class", "a_enclosure", "b_enclosure")
                    }
                laid |= told
            made[upto] = laid
        return made[upto]

    return holds
