"""Numbers that leave the row in which their neighbours stand: asked, for it may be a slip or a true crossing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from fibrebook.readers.lists.asking import LEAVE_OUT, Asking, means_yes
from fibrebook.readers.lists.lines import ENDS, Item
from fibrebook.words.labels import whole_number

KEEP = ("yes", LEAVE_OUT)
RARE = 2  # lines: a cable named so rarely amid another's may be a slip


def out_of_sequence(items: Sequence[Item], asking: Asking) -> None:
    """Ask about cores, ports and cables that break the sequence of the lines above and below; those wait."""
    by_block: dict[int, list[Item]] = {}
    for item in items:
        by_block.setdefault(item.block, []).append(item)
    for own in by_block.values():
        _strange_cable(own, asking)
        _cores(own, asking)
        for end in ENDS:
            _ports(own, end, asking)


def _strange_cable(items: Sequence[Item], asking: Asking) -> None:
    """A cable named once amid another's cores, whose next core it would be."""
    named = Counter(i.values.get("cable") for i in items)
    for before, item, after in zip(items, items[1:], items[2:], strict=False):
        cable, other = item.values.get("cable"), before.values.get("cable")
        cores = [i.values.get("core") for i in (before, item, after)]
        if (
            cable == other
            or other != after.values.get("cable")
            or not cable
            or not other
            or None in cores
            or named[cable] > RARE
        ):
            continue
        if cores[1] - cores[0] == 1 == cores[2] - cores[1]:  # type: ignore[operator]
            what = f"Core {cores[1]} is said to be of cable {cable}, amid those of {other}: is it of {cable}?"
            _ask(item, f"cable {cable} amid {other}, core {cores[1]}", what, asking, item.every)


def _cores(items: Sequence[Item], asking: Asking) -> None:
    for before, item, after in zip(items, items[1:], items[2:], strict=False):
        a, core, b = (i.values.get("core") for i in (before, item, after))
        cables = {i.values.get("cable") for i in (before, item, after)}
        if None in (a, core, b) or len(cables) > 1 or item.values.get("in_tube"):
            continue
        if b - a == 2 and core != a + 1:  # type: ignore[operator]
            what = (
                f"Core {core} of cable {item.values.get('cable')} stands between cores {a} and {b}: is it core {core}?"
            )
            _ask(item, f"core {core} between {a} and {b} of {item.values.get('cable')}", what, asking, item.every)


def _ports(items: Sequence[Item], end: str, asking: Asking) -> None:
    """A port whose distance from its core is not that of its neighbours', who agree; two of them: a swap."""
    port, place = f"{end}_port", f"{end}_enclosure"
    run: list[tuple[Item, int]] = []
    for item in [*items, None]:
        number = whole_number(str(item.values.get(port, ""))) if item is not None else None
        core = item.values.get("core") if item is not None else None
        if item is not None and number is not None and core and not item.values.get(f"{end}_position"):
            same = run and all(run[-1][0].values.get(r) == item.values.get(r) for r in ("cable", place))
            if same or not run:
                run.append((item, number - core))
                continue
        _one_run(run, end, asking)
        run = [(item, number - core)] if item is not None and number is not None and core else []


def _one_run(run: Sequence[tuple[Item, int]], end: str, asking: Asking) -> None:
    offsets = [o for _, o in run]
    strange = {i for i in range(1, len(run) - 1) if offsets[i - 1] == offsets[i + 1] != offsets[i]}
    for i in range(len(run) - 3):
        a, b, c, d = offsets[i : i + 4]
        if a == d and b != a and c != a:
            strange |= {i + 1, i + 2}
    n = len(run)
    if n >= 4:
        if offsets[0] != offsets[1] == offsets[2] == offsets[3]:
            strange.add(0)
        if offsets[-1] != offsets[-2] == offsets[-3] == offsets[-4]:
            strange.add(n - 1)
    if n >= 5:
        if offsets[0] != offsets[2] == offsets[3] == offsets[4] and offsets[1] != offsets[2]:
            strange |= {0, 1}
        if offsets[-1] != offsets[-3] == offsets[-4] == offsets[-5] and offsets[-2] != offsets[-3]:
            strange |= {n - 1, n - 2}
    for i in sorted(strange):
        item = run[i][0]
        where = item.values.get(f"{end}_enclosure", "")
        told = f"port {item.values[f'{end}_port']}" + (f" of {where}" if where else "")
        core = f"{item.values['core']} of {item.values.get('cable')}"
        what = f"Core {core} is on {told}, out of its neighbours' order: is it so?"
        key = f"core {core} on {told}"
        answer = asking.ask(key, [item.cells[f"{end}_port"]], str(item.values[f"{end}_port"]), what, KEEP)
        if answer is None or not means_yes(answer):
            item.values.pop(f"{end}_port")


def _ask(item: Item, key: str, what: str, asking: Asking, cells: Sequence[tuple[str, tuple[int, int]]]) -> None:
    answer = asking.ask(key, cells, "", what, KEEP)
    if answer is None or not means_yes(answer):
        item.values["waits"] = True
