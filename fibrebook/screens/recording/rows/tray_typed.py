"""What is chosen and typed at a tray: which cable end, what it is joined to, which joints are ticked.

Each choice decides what the next may be: enclosure, cable end, what it is joined to, then the proposed row of joints.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from fibrebook.screens.frame.section import Standing
from fibrebook.screens.recording.rows.joints import (
    NEXT_FREE,
    PIGTAILS,
    STRAIGHT,
    CableEnd,
    JointProposal,
    cable_ends,
    propose,
    taken,
    ways_on,
)
from fibrebook.screens.recording.rows.joints_made import joints_of
from fibrebook.screens.recording.rows.losses import Fault
from fibrebook.screens.recording.rows.offered import labels, still_chosen
from fibrebook.screens.recording.visit_draft import Day

SPLICE_METHODS = ("fusion", "mechanical")
PIGTAIL_METHODS = ("spliced pigtail", "field-fitted", "factory-fitted")
WHOLE = 0
Cells = Mapping[str, Any]
Choices = tuple[tuple[str, Any], ...]  # text, value


@dataclass(frozen=True)
class TrayTyped:
    """What is chosen and typed at the trays of a site.

    Attributes
    ----------
    enclosure, cable, to, tube : which cores; `cable` names a cable end, `to` another one or the ports
    order, tray, method : how they are joined; all : whether those joined already are shown too
    typed : by part of the visit and core, the cells that differ from what is proposed
    proposal : every core of the cable end, None where there is none; faults : (its row, column, words) each
    blocked : by part of the visit, why it cannot be saved yet; stands : the rows that what was typed last makes
    enclosures, cables, ways, tubes : what there is to choose from; ends : the cable ends by name
    """

    enclosure: str | None = None
    cable: str | None = None
    to: str | None = None
    tube: int | None = None
    order: str = STRAIGHT
    tray: str = "1"
    method: str = SPLICE_METHODS[0]
    all: bool = False
    typed: Mapping[str, Mapping[str, Cells]] = field(default_factory=dict)
    proposal: JointProposal | None = field(default=None, compare=False)
    faults: tuple[Fault, ...] = ()
    blocked: Mapping[str, str] = field(default_factory=dict)
    stands: Standing | None = None
    enclosures: tuple[str, ...] = ()
    cables: Choices = ()
    ways: Choices = ()
    tubes: Choices = ()
    ends: Mapping[str, CableEnd] = field(default_factory=dict)

    @property
    def end(self) -> CableEnd | None:
        """The cable end that is chosen."""
        return self.ends.get(self.cable or "")

    @property
    def methods(self) -> tuple[str, ...]:
        """How such joints are made."""
        return PIGTAIL_METHODS if self.to == PIGTAILS else SPLICE_METHODS

    @property
    def source(self) -> str:
        """The part of the visit that this selection makes."""
        end = self.end
        return f"tray {self.enclosure} {end.cable} {end.end} {self.to} {self.tube}" if end else ""

    @property
    def about(self) -> str:
        """The same, as people read it."""
        tube = f", tube {self.tube}" if self.tube else ""
        return f"{self.enclosure}: {self.cable}{tube} to {self.to}"

    @property
    def ready(self) -> int:
        """How many cores are not joined yet."""
        return sum(1 for r in self.proposal.rows if not r["there"]) if self.proposal else 0

    @property
    def shown(self) -> list[int]:
        """The rows of the proposal that are shown: those to be joined; all where that is wanted or none is left."""
        found = self.proposal.rows if self.proposal else []
        return [i for i, r in enumerate(found) if self.all or not self.ready or not r["there"]]

    @property
    def values(self) -> list[dict[str, Any]]:
        """What stands in the cells, also of the rows that are not shown."""
        if self.proposal is None:
            return []
        typed = self.typed.get(self.source, {})
        cores = (str(r["core"]) for r in self.proposal.rows)
        return [{**was, **typed.get(core, {})} for core, was in zip(cores, _proposed(self.proposal), strict=True)]


def follow(state: TrayTyped, seen: Day) -> TrayTyped:
    """Return what holds over the records as they are now: what is chosen stays as long as it is there."""
    tables = seen.tables()
    found = tuple(e for e in labels(tables["enclosures"], "enclosure") if cable_ends(tables, e))
    now = replace(state, enclosures=found, enclosure=still_chosen(state.enclosure, found))
    return in_enclosure(now, seen, again=True)


def in_enclosure(state: TrayTyped, seen: Day, again: bool = False) -> TrayTyped:
    """Return the state in its enclosure; chosen just now and not again, the first cable with a free core is."""
    tables, enclosure = seen.tables(), state.enclosure
    ends = cable_ends(tables, enclosure) if enclosure else []
    joined = [(c, e) for c, _, e in taken(tables, enclosure)] if enclosure else []
    counts = dict(zip(tables["cables"]["cable"].to_pylist(), tables["cables"]["core_count"].to_pylist(), strict=True))
    free = {e: counts[e.cable] - joined.count((e.cable, e.end)) for e in ends}
    cables = tuple((f"{e} – {counts[e.cable]} cores, {free[e]} free here", str(e)) for e in ends)
    first = next((str(e) for e in ends if free[e]), None)
    cable = still_chosen(state.cable, [name for _, name in cables])
    if first is not None and not again:
        cable = first
    return of_cable(replace(state, cables=cables, ends={str(e): e for e in ends}, cable=cable), seen, again)


def of_cable(state: TrayTyped, seen: Day, again: bool = False) -> TrayTyped:
    """Return the state at its cable end; chosen just now, the likeliest way on and the whole cable are."""
    end = state.end
    ways = tuple(ways_on(seen.tables(), state.enclosure or "", end)) if end else ()
    numbers = sorted({c["tube"] for c in seen.cores().to_pylist() if end and c["cable"] == end.cable and c["tube"]})
    parts = tuple((f"tube {t}", t) for t in numbers) if len(numbers) > 1 else ()
    tubes: Choices = (("whole cable", WHOLE), *parts)
    to, tube = still_chosen(state.to, [v for _, v in ways]), still_chosen(state.tube, [v for _, v in tubes])
    if ways and not again:
        to, tube = ways[0][1], WHOLE
    return towards(replace(state, ways=ways, tubes=tubes, to=to, tube=tube), seen, again)


def towards(state: TrayTyped, seen: Day, again: bool = False) -> TrayTyped:
    """Return the state joined to what it is joined to; chosen just now, straight through."""
    order = state.order if again else STRAIGHT
    return proposed(replace(state, method=still_chosen(state.method, state.methods), order=order), seen)


def proposed(state: TrayTyped, seen: Day) -> TrayTyped:
    """Return the state with the joints that its choices propose; where straight through leads nowhere, in order."""
    if state.end is None or state.to is None:
        return replace(state, proposal=None, faults=())
    order, found = state.order, _propose(state, state.order, seen)
    if order == STRAIGHT and found.targets and not any(r["to"] for r in found.rows if not r["there"]):
        order, found = NEXT_FREE, _propose(state, NEXT_FREE, seen)
    untouched = state.source not in state.typed
    tray = found.tray if found.to != PIGTAILS and untouched else state.tray
    now = replace(state, order=order, proposal=found, tray=tray, faults=())
    return now if untouched else read(now, seen)


def read(state: TrayTyped, seen: Day, values: Sequence[Cells] | None = None) -> TrayTyped:
    """Return the state with the rows that its ticks make; `values`: what stands in the rows shown now."""
    found = state.proposal
    if found is None:
        return state
    was, stood, shown = _proposed(found), state.values, state.shown
    kept = dict(state.typed.get(state.source, {}))
    for i, now in zip(shown, [stood[i] for i in shown] if values is None else values, strict=True):
        differs = {n: v for n, v in now.items() if v != was[i][n]}  # only that: the rest may yet change
        kept[str(found.rows[i]["core"])] = differs
    state = replace(state, typed={**state.typed, state.source: kept})
    put, faults = joints_of(found, state.values, state.tray.strip() or "1", state.method, seen.on, seen.by)
    count = sum(len(rows) for kind, rows in put.items() if kind != "cores")
    many = "" if count == 1 else "s"
    what = f"pigtail{many}" if found.to == PIGTAILS else f"splice{many} to {found.to}"
    first = f"core {found.rows[faults[0][0]]['core']}: {faults[0][2]}" if faults else ""
    more = f" ({len(faults) - 1} more like it)" if len(faults) > 1 else ""
    blocked = {source: words for source, words in state.blocked.items() if source != state.source}
    if faults:
        blocked[state.source] = f"the tray has something to put right: {first}{more}"
    stands = Standing(state.source, f"{found.enclosure}, {found.end}: {count} {what}", put)
    return replace(state, stands=stands, faults=tuple(faults), blocked=blocked)


def _propose(state: TrayTyped, order: str, seen: Day) -> JointProposal:
    assert state.end is not None and state.to is not None
    tables = seen.tables(but=state.source)
    return propose(
        tables, seen.cores(tables), seen.site, state.enclosure or "", state.end, state.to, order, state.tube or None
    )


def _proposed(found: JointProposal) -> list[dict[str, Any]]:
    """What stands in the cells of every row of a proposal before anything is typed."""
    return [
        {
            "made": bool(r["there"]),
            "to": r["to"],
            "loss_db": "" if r["loss_db"] is None else f"{r['loss_db']:g}",
            "note": r["note"],
        }
        for r in found.rows
    ]
