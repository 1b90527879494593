"""The tray: a cable in an enclosure, its cores in a row with the joint that each gets; tick, paste losses, mend one."""

from __future__ import annotations

from functools import partial
from typing import Any

import ipywidgets as w

from fibrebook.screens.frame.screen import html, row
from fibrebook.screens.recording.add_form import State, Visit, VisitSection, labels
from fibrebook.screens.recording.core_rows import core_columns, core_row
from fibrebook.screens.recording.rows.joints import (
    NEXT_FREE,
    ORDERS,
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
from fibrebook.screens.widgets.controls import dropdown, offer, text
from fibrebook.screens.widgets.grid import Grid, col

SPLICE_METHODS = ["fusion", "mechanical"]
PIGTAIL_METHODS = ["spliced pigtail", "field-fitted", "factory-fitted"]
WHOLE = 0


class TraySection(VisitSection):
    """Splices and terminations of one cable end in one enclosure."""

    title, name = "Tray", "tray"

    def __init__(self, visit: Visit) -> None:
        super().__init__(visit)
        self._typed: dict[str, dict[str, Any]] = {}  # by source, then core: what stood in the grid
        self.proposal: JointProposal | None = None  # every core of the cable end; `shown` are the rows in the grid
        self.shown: list[int] = []
        self.enclosure = dropdown("Enclosure", self._enclosure_chosen, "enclosure")
        self.cable = dropdown("Cable", self._cable_chosen, "cable")
        self.to = dropdown("Join to", self._to_chosen, "to")
        self.tube = dropdown("Tube", self._propose, "tube")
        self.order = dropdown("Order", self._propose, "order", ORDERS)
        self.tray = text("Tray", self._changed, "tray", "1")
        self.method = dropdown("Method", self._changed, "method", SPLICE_METHODS)
        self.all = w.Checkbox(value=False, description="cores joined already too", indent=False)
        self.all.add_class("fb-in-joined")
        self.all.observe(lambda _: self._propose(), "value")
        self.note = html("", "fb-tray-note")
        self.grid = Grid(self.typed_late, ticked_by={"loss_db": "made"}, all_needs={"made": "to"})
        self.grid.add_class("fb-tray-grid")
        self.grid.observe(lambda _: self._changed(), "values")
        self.children = [
            row(self.enclosure, self.cable, self.to, self.tube, self.order, self.tray, self.method, self.all),
            self.note,
            self.grid,
        ]

    # --- what is chosen ----------------------------------------------------------------------------------------------
    def refresh(self) -> None:
        """Offer the enclosures of the site; one with free core ends first."""
        tables = self.visit.tables()
        names = [e for e in labels(tables["enclosures"], "enclosure") if cable_ends(tables, e)]
        self._calm(lambda: offer(self.enclosure, names))
        self._enclosure_chosen(again=True)

    def _enclosure_chosen(self, again: bool = False) -> None:
        if self._quiet:
            return
        tables, enclosure = self.visit.tables(), self.enclosure.value
        ends = cable_ends(tables, enclosure) if enclosure else []
        joined = [(c, e) for c, _, e in taken(tables, enclosure)] if enclosure else []
        counts = dict(
            zip(tables["cables"]["cable"].to_pylist(), tables["cables"]["core_count"].to_pylist(), strict=True)
        )
        free = {e: counts[e.cable] - joined.count((e.cable, e.end)) for e in ends}
        options = [(f"{e} – {counts[e.cable]} cores, {free[e]} free here", e) for e in ends]
        first = next((e for e in ends if free[e]), None)
        self._calm(lambda: offer(self.cable, options))
        if first is not None and not again:
            self._calm(lambda: setattr(self.cable, "value", first))
        self._cable_chosen(again)

    def _cable_chosen(self, again: bool = False) -> None:
        if self._quiet:
            return
        end, tables = self.cable.value, self.visit.tables()
        ways = ways_on(tables, self.enclosure.value, end) if end else []
        tubes = sorted(
            {c["tube"] for c in self.visit.cores().to_pylist() if end and c["cable"] == end.cable and c["tube"]}
        )
        options = (
            [("whole cable", WHOLE), *((f"tube {t}", t) for t in tubes)] if len(tubes) > 1 else [("whole cable", WHOLE)]
        )
        self._calm(lambda: offer(self.to, ways))
        self._calm(lambda: offer(self.tube, options))
        if ways and not again:
            self._calm(lambda: setattr(self.to, "value", ways[0][1]))
            self._calm(lambda: setattr(self.tube, "value", WHOLE))
        self._to_chosen(again)

    def _to_chosen(self, again: bool = False) -> None:
        if self._quiet:
            return
        pigtails = self.to.value == PIGTAILS
        self.order.layout.display = self.tray.layout.display = "none" if pigtails else None
        self._calm(lambda: offer(self.method, PIGTAIL_METHODS if pigtails else SPLICE_METHODS))
        if not again:
            self._calm(lambda: setattr(self.order, "value", STRAIGHT))
        self._propose()

    # --- the row of joints -------------------------------------------------------------------------------------------
    @property
    def source(self) -> str:
        """The part of the day that this selection makes."""
        end: CableEnd = self.cable.value
        return f"tray {self.enclosure.value} {end.cable} {end.end} {self.to.value} {self.tube.value}"

    @property
    def about(self) -> str:
        """The same, as people read it."""
        tube = f", tube {self.tube.value}" if self.tube.value else ""
        return f"{self.enclosure.value}: {self.cable.value}{tube} to {self.to.value}"

    def _propose(self) -> None:
        if self._quiet:
            return
        if self.cable.value is None or self.to.value is None:
            self.proposal = None
            self.grid.show("", [], [], [])
            self.note.value = self._why_nothing()
            return
        tables = self.day.tables(but=self.source)
        cores = self.day.cores(tables)

        def made(order: str) -> JointProposal:
            return propose(
                tables, cores, self.day.site, self.enclosure.value, self.cable.value, self.to.value, order,
                self.tube.value or None,
            )  # fmt: skip

        found = made(self.order.value)
        if self.order.value == STRAIGHT and found.targets and not any(r["to"] for r in found.rows if not r["there"]):
            found = made(NEXT_FREE)
            self._calm(lambda: setattr(self.order, "value", NEXT_FREE))
        self.proposal = found
        if found.to != PIGTAILS and self.source not in self._typed:
            self._calm(lambda: setattr(self.tray, "value", found.tray))
        self._show()

    def _why_nothing(self) -> str:
        if not self.day.site:
            return "Choose the site first."
        return "No cable ends in an enclosure here yet: add the enclosure and the cable first."

    def _show(self) -> None:
        found = self.proposal
        assert found is not None
        target = "Port" if found.to == PIGTAILS else f"Core of {found.to}"
        columns = [
            *core_columns(found.rows),
            col("made", "Made", "tick"),
            col("to", target, "entry", list=list(found.targets), width="7em"),
            col("loss_db", "Loss (dB)", "entry", numeric=True, width="6em"),
            col("note", "Note on the core", "entry", width="14em"),
        ]
        rows = [core_row(r, ["made", "to"] if r["there"] else []) for r in found.rows]
        values = self._values()
        ready = sum(1 for r in found.rows if not r["there"])
        self.shown = [i for i, r in enumerate(found.rows) if self.all.value or not ready or not r["there"]]
        caption = f"{found.end} in {found.enclosure}: {len(rows)} cores, {len(rows) - ready} joined already"
        self._calm(
            lambda: self.grid.show(
                caption, columns, [rows[i] for i in self.shown], [values[i] for i in self.shown], self.about
            )
        )
        self.note.value = (
            "Tick what was made. A loss, or a column of losses from the splicer, is pasted into the Loss column."
            if ready
            else "Every core is joined here; only losses and notes can be put right."
        )
        if self.source in self._typed:
            self._changed()

    def _proposed(self) -> list[dict[str, Any]]:
        """What stands in the cells of every row of the proposal before anything is typed."""
        assert self.proposal is not None
        return [
            {
                "made": bool(r["there"]),
                "to": r["to"],
                "loss_db": "" if r["loss_db"] is None else f"{r['loss_db']:g}",
                "note": r["note"],
            }
            for r in self.proposal.rows
        ]

    def _values(self) -> list[dict[str, Any]]:
        """What stands in the cells, also of the rows that are not shown."""
        assert self.proposal is not None
        typed = self._typed.get(self.source, {})
        cores = (str(r["core"]) for r in self.proposal.rows)
        return [{**was, **typed.get(core, {})} for core, was in zip(cores, self._proposed(), strict=True)]

    def _changed(self) -> None:
        if self._quiet or self.proposal is None:
            return
        kept = self._typed.setdefault(self.source, {})
        proposed = self._proposed()
        for i, now in zip(self.shown, self.grid.values, strict=True):  # only what differs: the rest may yet change
            kept[str(self.proposal.rows[i]["core"])] = {n: v for n, v in now.items() if v != proposed[i][n]}
        put, faults = joints_of(
            self.proposal, self._values(), self.tray.value.strip() or "1", self.method.value, self.day.on, self.day.by
        )
        place = {i: n for n, i in enumerate(self.shown)}
        self.grid.mark([(place[i], column, words) for i, column, words in faults if i in place])
        count = sum(len(v) for k, v in put.items() if k != "cores")
        many = "" if count == 1 else "s"
        what = f"pigtail{many}" if self.proposal.to == PIGTAILS else f"splice{many} to {self.proposal.to}"
        self.visit.keep(self.source, f"{self.proposal.enclosure}, {self.proposal.end}: {count} {what}", put)
        first = f"core {self.proposal.rows[faults[0][0]]['core']}: {faults[0][2]}" if faults else ""
        more = f" ({len(faults) - 1} more like it)" if len(faults) > 1 else ""
        self.visit.waits(self.source, f"the tray has something to put right: {first}{more}" if faults else "")

    def head_changed(self) -> None:
        """Who and when changed: the rows say it."""
        self._changed() if self.proposal is not None and self.source in self._typed else None

    def forget(self) -> None:
        """Begin afresh after a save."""
        self._typed.clear()

    def begun(self) -> bool:
        """Tell whether something was typed."""
        return any(cells for kept in self._typed.values() for cells in kept.values())

    # --- draft -------------------------------------------------------------------------------------------------------
    def kept(self) -> State:
        """Return the selection and what stands in every grid."""
        end = self.cable.value
        chosen = {
            "enclosure": self.enclosure.value, "cable": str(end) if end else None, "to": self.to.value,
            "tube": self.tube.value, "order": self.order.value, "tray": self.tray.value, "method": self.method.value,
            "all": self.all.value,
        }  # fmt: skip
        return {"chosen": chosen, "typed": self._typed}

    def restore(self, state: State) -> None:
        """Choose again what was chosen and fill the grid."""
        self._typed = dict(state.get("typed", {}))
        chosen = state.get("chosen", {})
        if chosen.get("enclosure") in self.enclosure.options:
            self.enclosure.value = chosen["enclosure"]
            by_text = {str(v): v for _, v in self.cable.options}
            if chosen.get("cable") in by_text:
                self.cable.value = by_text[chosen["cable"]]
        self._calm(lambda: setattr(self.all, "value", bool(chosen.get("all"))))
        for name in ("to", "tube", "order", "method"):
            control: w.Dropdown = getattr(self, name)
            values = [o[1] if isinstance(o, tuple) else o for o in control.options]
            if chosen.get(name) in values:
                self._calm(partial(setattr, control, "value", chosen[name]))
        self._calm(lambda: setattr(self.tray, "value", chosen.get("tray") or "1"))
        self._propose()
