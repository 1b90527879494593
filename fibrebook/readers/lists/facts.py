"""Records out of what lines say, each with the cells that it comes from; what contradicts itself is asked and waits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from fibrebook.readers.lists.asking import LEAVE_OUT, Asking
from fibrebook.readers.lists.core_numbers import CableCores
from fibrebook.readers.lists.lines import ENDS, Cell, Item
from fibrebook.records import KINDS
from fibrebook.words.lists import both

USUAL_COUNTS = (
    1,
    2,
    4,
    6,
    8,
    12,
    16,
    18,
    20,
    24,
    32,
    36,
    48,
    60,
    64,
    72,
    96,
    120,
    128,
    144,
    192,
    216,
    240,
    288,
    432,
    576,
    864,
)
LEAST_COUNT = 4  # a list of fewer cores may well name only those in use
FEW_MISSING = 6  # one core in so many may be missing from the list
MOST_CELLS = 50  # kept of one record, by which it is found on the list
Key = tuple[Any, ...]


@dataclass(slots=True)
class Fact:
    """One record: its values by column, the cells that it comes from, the tables of the list that said it."""

    values: dict[str, Any]
    cells: Sequence[Cell]
    blocks: frozenset[int] = frozenset()


@dataclass
class Facts:
    """All records by kind and key; `doubtful`: records that wait for an answer, and are not among them."""

    asking: Asking
    by_kind: dict[str, dict[Key, Fact]] = field(default_factory=dict)
    gone: set[tuple[str, Key]] = field(default_factory=set)
    _keys: dict[str, tuple[str, ...]] = field(default_factory=dict)
    _blocks: dict[int, frozenset[int]] = field(default_factory=dict)

    def lay(self, kind: str, values: dict[str, Any], cells: Sequence[Cell], block: int) -> None:
        """Lay a record down (`values` becomes its own); values that differ from those there are asked about."""
        names = self._keys.get(kind)
        if names is None:
            names = self._keys.setdefault(kind, tuple(KINDS[kind].key))
        key = tuple([values.get(k) or "" for k in names])
        if self.gone and (kind, key) in self.gone:
            return
        rows = self.by_kind.get(kind)
        if rows is None:
            rows = self.by_kind.setdefault(kind, {})
        there = rows.get(key)
        if there is None:
            rows[key] = Fact(values, tuple(cells), self._block(block))
            return
        if len(there.cells) >= MOST_CELLS and block in there.blocks and there.values == values:
            return
        if block not in there.blocks:
            there.blocks |= self._block(block)
        for name, value in values.items():
            before = there.values.get(name)
            if before is None or before == value:
                there.values[name] = value
            elif name == "notes":
                there.values[name] = before if value in before.split("; ") else f"{before}; {value}"
            elif not self._choose(kind, key, name, there, value, cells):
                return
        if len(there.cells) < MOST_CELLS:
            there.cells = (*there.cells, *(c for c in cells if c not in there.cells))

    def _block(self, number: int) -> frozenset[int]:
        """One object for each table: a long list has very many records of few tables."""
        return self._blocks.setdefault(number, frozenset((number,)))

    def _choose(self, kind: str, key: Key, name: str, there: Fact, value: Any, cells: Sequence[Cell]) -> bool:
        before = there.values[name]
        told = " ".join(str(k) for k in key[1:] if k != "")
        singular = KINDS[kind].singular
        column = name.replace("_", " ")
        what = f"{singular.capitalize()} {told} has {column} {before!r} here and {value!r} there: which is right?"
        ask_key = f"{singular} {told}: {name}"
        answer = self.asking.ask(
            ask_key, [*there.cells, *cells], str(value), what, (str(before), str(value), LEAVE_OUT)
        )
        if answer is not None and answer in (str(before), str(value)):
            there.values[name] = before if answer == str(before) else value
            return True
        self.gone.add((kind, key))
        self.by_kind[kind].pop(key, None)
        return False


def _count_told(facts: Facts, cable: CableCores, numbers: list[int], first: Cell) -> tuple[int, Cell] | None:
    """How many cores a cable has that does not say: by its cores' numbers, or as is answered; None where neither."""
    if not numbers and any("core" in i.values or "core_colour" in i.values for i in cable.items):
        return None  # its cores all wait
    most = numbers[-1] if numbers else 0
    missing = sorted(set(range(1, most + 1)) - set(numbers))
    if most in USUAL_COUNTS and most >= LEAST_COUNT and len(missing) <= most // FEW_MISSING:
        if missing:
            _holes(facts, cable, missing)
        return most, first
    told = f"names cores up to {most}" if most else "names no core"
    ways = tuple(str(n) for n in USUAL_COUNTS if n >= most)[:4]
    what = f"The list {told} of cable {cable.name} and does not say how many it has: how many?"
    cells = [c for i in cable.items for c in i.every] or [first]
    answer = facts.asking.ask(f"how many cores has {cable.name}", cells, cable.cable, what, ways)
    return (int(answer), first) if answer is not None and answer.isdecimal() else None


def lay_cable(facts: Facts, cable: CableCores, ends: tuple[str, str], count_needed: bool = True) -> bool:
    """Lay down a cable's own record; False where it waits for its count of cores."""
    values: dict[str, Any] = {"site": cable.site, "cable": cable.cable}
    cells: list[Cell] = []
    for role in ("fibre_class", "length_m", "cores_per_tube", "route", "sheath", "installed_on"):
        found = _one(facts, cable, role)
        if found is not None:
            values[role] = found[0]
            cells.append(found[1])
    for end, enclosure in zip(ENDS, ends, strict=True):
        if enclosure:
            values[f"{end}_enclosure"] = enclosure
    sound = {i.values["core"] for n, i in enumerate(cable.items) if "core" in i.values and n not in cable.doubtful}
    numbers = sorted(sound | {n for n in cable.waiting if n < max(sound, default=0)})
    count = _one(facts, cable, "core_count")
    first = (
        next((i.cells[r] for i in cable.items for r in ("cable", "core") if r in i.cells), None)
        or cable.items[0].every[0]
    )
    if count is None:
        count = _count_told(facts, cable, numbers, first)
    if count is None:
        return False
    over = [i for i in cable.items if i.values.get("core", 0) > count[0]]
    if over:
        cells_over = [c for i in over for c in i.every]
        told = both([str(i.values["core"]) for i in over[:3]])
        what = f"Cable {cable.name} has {count[0]} cores, but the list names core {told}: how many has it?"
        ways = tuple(str(n) for n in USUAL_COUNTS if n >= max(i.values["core"] for i in over))[:3]
        key = f"core {told} of {cable.name}, which has {count[0]}"
        answer = facts.asking.ask(key, cells_over, told, what, (*ways, LEAVE_OUT))
        if answer and answer.isdecimal():
            count = (int(answer), count[1])
        else:
            cable.doubtful |= {n for n, i in enumerate(cable.items) if i.values.get("core", 0) > count[0]}
    values["core_count"] = count[0]
    if cable.per_tube and cable.per_tube < count[0]:
        values.setdefault("cores_per_tube", cable.per_tube)
    if cable.code and cable.code != "TIA-598":
        values["colour_code"] = cable.code
    notes = [t for i in cable.items if not _names_core(i) and "a_port" not in i.values for t, _ in i.notes]
    if notes:
        values["notes"] = "; ".join(dict.fromkeys(notes))
    for block in sorted({i.block for i in cable.items}):
        facts.lay("cables", values, [first, count[1], *cells], block)
    return True


def _holes(facts: Facts, cable: CableCores, missing: Sequence[int]) -> None:
    """Tell of cores that the list does not name between others that it does."""
    beside = [i for i in cable.items if i.values.get("core") in (missing[0] - 1, missing[0] + 1)]
    told = both([str(n) for n in missing])
    what = f"The list names no core {told} of cable {cable.name}, but those around it: is there no line for it?"
    cells = [c for i in beside[:1] for c in i.every[:1]]
    facts.asking.ask(f"no core {told} of {cable.name}", cells, told, what, ("yes",), waits=False)


def _names_core(item: Item) -> bool:
    return "core" in item.values or "core_colour" in item.values


def _one(facts: Facts, cable: CableCores, role: str) -> tuple[Any, Cell] | None:
    """Return the one value that a cable's lines give of it; where they give several, it is asked."""
    found: dict[Any, Cell] = {}
    for item in cable.items:
        if item.values.get(role) not in (None, ""):
            found.setdefault(_typed(role, item.values[role]), item.cells.get(role) or item.every[0])
    if len(found) > 1:
        told = [str(v) for v in found]
        what = f"Cable {cable.name} has {role.replace('_', ' ')} {' and '.join(map(repr, told))}: which is right?"
        answer = facts.asking.ask(f"{role} of {cable.name}", list(found.values()), told[0], what, (*told, LEAVE_OUT))
        return next(((v, c) for v, c in found.items() if str(v) == answer), None)
    return next(iter(found.items()), None)


def _typed(role: str, value: Any) -> Any:
    return int(value) if role in ("core_count", "cores_per_tube") and str(value).isdecimal() else value


def lay_item(facts: Facts, site: str, item: Item, at_end: dict[str, str]) -> None:
    """Lay down what one line says: panels, ports, core, terminations, tests.

    at_end : "a" or "b" -> the enclosure at that end, where the line has one
    """
    values, cells = item.values, item.cells
    cable, core = values.get("cable"), values.get("core")
    for end, enclosure in at_end.items():
        where = cells.get(f"{end}_enclosure") or item.every[0]
        facts.lay("enclosures", {"site": site, "enclosure": enclosure}, [where], item.block)
        port = values.get(f"{end}_port")
        if port is None:
            continue
        at = cells[f"{end}_port"]
        own = {"site": site, "enclosure": enclosure, "port": str(port)}
        if values.get(f"{end}_position"):
            own["position"] = str(values[f"{end}_position"])
        facts.lay("ports", own, [where, at], item.block)
        if cable and core:
            made = [cells.get("cable") or at, cells.get("core") or at, where, at]
            facts.lay("terminations", {**own, "cable": cable, "core": core}, made, item.block)
    if not (cable and core):
        return
    own = {"site": site, "cable": cable, "core": core}
    said = {r: values[r] for r in ("condition", "fault_m", "reserved_for") if values.get(r) not in (None, "")}
    if item.notes:
        said["notes"] = "; ".join(dict.fromkeys(t for t, _ in item.notes))
    at_core = cells.get("core") or item.every[0]
    facts.lay(
        "cores", own | said, [at_core, *(cells[r] for r in said if r in cells), *(c for _, c in item.notes)], item.block
    )
    for wavelength, loss, cell in item.losses:
        _lay_test(facts, own, wavelength, loss, cell, item)


def _lay_test(facts: Facts, own: dict[str, Any], wavelength: int | None, loss: float, cell: Cell, item: Item) -> None:
    name = f"{own['cable']}-{own['core']}" + (f"-{wavelength}" if wavelength else "")
    test = own | {"test": name, "method": "loss test", "loss_db": loss}
    if wavelength:
        test["wavelength_nm"] = wavelength
    for role in ("tested_on", "tested_by"):
        if item.values.get(role):
            test[role] = item.values[role]
    facts.lay("tests", test, [item.cells.get("core") or cell, cell], item.block)
