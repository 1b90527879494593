"""Light checks and loss tests: one cable at a time, a grid to fill or to paste a block into."""

from __future__ import annotations

from typing import Any

from fibrebook.screens.frame.screen import EYES, html, row
from fibrebook.screens.recording.add_form import Section, State, Visit, labels
from fibrebook.screens.recording.core_rows import core_columns, core_row
from fibrebook.screens.recording.rows.readings import CHECK, LOSS, METHODS, readings_of, usual_windows, wavelengths_of
from fibrebook.screens.widgets.controls import dropdown, offer, text
from fibrebook.screens.widgets.grid import Grid, col

VERDICTS = ["pass", "marginal", "fail"]


class TestSection(Section):
    """Readings of every core of a cable."""

    __test__ = False  # the name is the trade's, not the test runner's
    title, name = "Tests", "tests"

    def __init__(self, visit: Visit) -> None:
        super().__init__(visit)
        self._typed: dict[str, list[dict[str, Any]]] = {}
        self._cores: list[int] = []
        self.cable = dropdown("Cable", self._cable_chosen, "test-cable")
        self.method = dropdown("Method", self._show, "test-method", list(METHODS))
        self.windows = text("Wavelengths (nm)", self._show, "test-windows")
        self.direction = dropdown("Direction", self._changed, "test-direction", ["", "a to b", "b to a"])
        self.reference = dropdown(
            "Reference method", self._changed, "test-reference", ["", "one-cord", "two-cord", "three-cord"]
        )
        self.instrument = text("Instrument", self._changed, "test-instrument")
        self.note = html("", "fb-test-note")
        self.grid = Grid(self.typed_late)
        self.grid.add_class("fb-test-grid")
        self.grid.observe(lambda _: self._changed(), "values")
        self.children = [
            html(f"<div class='fb-caution'><b>Caution, before looking for light:</b> {EYES}</div>"),
            row(self.cable, self.method, self.windows, self.direction, self.reference, self.instrument),
            self.note,
            self.grid,
        ]

    def refresh(self) -> None:
        """Offer the cables of the site."""
        self._calm(lambda: offer(self.cable, labels(self.visit.tables()["cables"], "cable")))
        self._cable_chosen()

    def _cable_chosen(self) -> None:
        if self._quiet:
            return
        cables = {c["cable"]: c for c in self.visit.tables()["cables"].to_pylist()}
        chosen = cables.get(self.cable.value)
        if chosen and f"test {self.cable.value} {self.method.value}" not in self._typed:
            self._calm(lambda: setattr(self.windows, "value", usual_windows(chosen["fibre_class"])))
        self._show()

    @property
    def source(self) -> str:
        """The part of the day that this cable and method make."""
        return f"test {self.cable.value} {self.method.value}"

    def _show(self) -> None:
        if self._quiet:
            return
        check = self.method.value == CHECK
        for control in (self.windows, self.direction, self.reference):
            control.layout.display = "none" if check else None
        nms, wrong = wavelengths_of(self.windows.value)
        cores = [c for c in self.visit.cores().to_pylist() if c["cable"] == self.cable.value]
        self._cores = [c["core"] for c in cores]
        self.note.value = wrong or (
            "A verdict for each core whose light was looked for." if check
            else "Type a loss, or paste a block: one line a core, one column a wavelength."
        )  # fmt: skip
        if not cores or (wrong and not check):
            self._calm(lambda: self.grid.show("", [], [], []))
            return
        losses = [] if check else [col(f"loss_{nm}", f"{nm} nm (dB)", "entry", numeric=True) for nm in nms]
        columns = [
            *core_columns(cores),
            *losses,
            col("verdict", "Verdict", "choice", options=VERDICTS),
        ]
        rows = [core_row(c) for c in cores]
        names = [c["name"] for c in losses] + ["verdict"]
        typed = self._typed.get(self.source, [])
        if len(typed) != len(rows):
            typed = [{} for _ in rows]
        values = [{n: t.get(n, "") for n in names} for t in typed]
        self._calm(lambda: self.grid.show(f"{self.cable.value}: {self.method.value}", columns, rows, values))

    def _changed(self) -> None:
        if self._quiet or not self._cores or not self.grid.rows:
            return
        values = [dict(v) for v in self.grid.values]
        nms, _ = wavelengths_of(self.windows.value)
        about = {
            "instrument": self.instrument.value.strip() or None,
            "tested_on": self.day.on,
            "tested_by": self.day.by,
        }
        if self.method.value == LOSS:
            about |= {"direction": self.direction.value or None, "reference_method": self.reference.value or None}
        rows, faults = readings_of(
            self.day.tables(but=self.source), self.day.site, self.cable.value, self._cores, values, self.method.value,
            nms, about,
        )  # fmt: skip
        self.grid.mark(faults)
        self._typed[self.source] = values
        self.visit.keep(
            self.source,
            f"{self.cable.value}: {len(rows)} {self.method.value}{'' if len(rows) == 1 else 's'}",
            {"tests": rows},
        )
        self.visit.waits(self.source, f"the tests have something to put right: {faults[0][2]}" if faults else "")

    def head_changed(self) -> None:
        """Who and when changed: the rows say it."""
        if self._typed.get(self.source):
            self._changed()

    def forget(self) -> None:
        """Begin afresh after a save."""
        self._typed.clear()

    def begun(self) -> bool:
        """Tell whether something was typed."""
        return bool(self._typed)

    def kept(self) -> State:
        """Return the selection and what stands in the grids."""
        names = ("cable", "method", "windows", "direction", "reference", "instrument")
        return {"chosen": {n: getattr(self, n).value for n in names}, "typed": self._typed}

    def restore(self, state: State) -> None:
        """Choose again what was chosen and fill the grid."""
        self._typed = dict(state.get("typed", {}))

        def choose() -> None:
            for name, value in state.get("chosen", {}).items():
                control = getattr(self, name)
                if not hasattr(control, "options") or value in control.options:
                    control.value = value or ""

        self._calm(choose)
        self._show()
