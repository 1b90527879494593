"""Light checks and loss tests: one cable at a time, a grid to fill or to paste a block into."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import ipywidgets as w

from fibrebook.screens.frame.screen import EYES, html, row
from fibrebook.screens.frame.section import Event, Section, Shown, Standing
from fibrebook.screens.recording.core_rows import core_columns, core_row
from fibrebook.screens.recording.rows.offered import labels
from fibrebook.screens.recording.rows.readings import CHECK, LOSS, METHODS, readings_of, usual_windows, wavelengths_of
from fibrebook.screens.recording.visit_draft import Day
from fibrebook.screens.widgets.controls import dropdown, offer, text, told_by_watch
from fibrebook.screens.widgets.grid import Grid, col, late_words

VERDICTS = ["pass", "marginal", "fail"]
CHOSEN = ("cable", "method", "windows", "direction", "reference", "instrument")
CHOICES = {
    "method": METHODS,
    "direction": ("", "a to b", "b to a"),
    "reference": ("", "one-cord", "two-cord", "three-cord"),
}
Cells = tuple[Mapping[str, Any], ...]


@dataclass(frozen=True)
class TestsTyped:
    """What is chosen and typed of tests.

    Attributes
    ----------
    cable, method, windows, direction, reference, instrument : as chosen; windows are the wavelengths as typed
    typed : by source, what stands in the grid, one for each core; faults : by source, (row, column, words) each
    stands : the rows that what was typed last makes
    cables, cores : those of the site to choose from; every core of the cable chosen, with its colours
    """

    __test__ = False  # the name is the trade's, not the test runner's
    cable: str | None = None
    method: str = LOSS
    windows: str = ""
    direction: str = ""
    reference: str = ""
    instrument: str = ""
    typed: Mapping[str, Cells] = field(default_factory=dict)
    faults: Mapping[str, tuple[tuple[int, str, str], ...]] = field(default_factory=dict)
    stands: Standing | None = None
    cables: tuple[str, ...] = ()
    cores: tuple[Mapping[str, Any], ...] = ()

    @property
    def source(self) -> str:
        """The part of the visit that this cable and method make."""
        return f"test {self.cable} {self.method}"

    @property
    def columns(self) -> tuple[str, ...]:
        """What is to be filled in for each core; none where there is no grid."""
        nms, wrong = wavelengths_of(self.windows)
        if not self.cores or (wrong and self.method != CHECK):
            return ()
        return (*(f"loss_{nm}" for nm in nms if self.method != CHECK), "verdict")

    @property
    def values(self) -> list[dict[str, Any]]:
        """What stands in the grid."""
        typed = self.typed.get(self.source, ())
        if len(typed) != len(self.cores):
            typed = ({},) * len(self.cores)
        return [{n: t.get(n, "") for n in self.columns} for t in typed]


class TestSection(Section[TestsTyped, Day]):
    """Readings of every core of a cable."""

    __test__ = False
    title, name = "Tests", "tests"

    # --- what is typed, and what it means ----------------------------------------------------------------------------
    def begin(self) -> TestsTyped:
        """Nothing."""
        return TestsTyped()

    def after(self, state: TestsTyped, event: Event, seen: Day) -> TestsTyped:
        """Another cable, method or window shows another grid; all else is part of the rows."""
        if event.of == "cable":
            return _of_cable(replace(state, cable=event.value), seen)
        if event.of == "values":
            return _read(replace(state, typed={**state.typed, state.source: _cells(event.value)}), seen)
        now = replace(state, **{event.of: event.value})
        if event.of in ("method", "windows") or not now.columns:
            return now
        return _read(replace(now, typed={**now.typed, now.source: _cells(now.values)}), seen)

    def follow(self, state: TestsTyped, seen: Day) -> TestsTyped:
        """Offer the cables of the site; the one chosen stays as long as there is one."""
        cables = tuple(labels(seen.tables()["cables"], "cable"))
        if state.cable in cables:
            return replace(state, cables=cables, cores=_cores(state.cable, seen))
        return _of_cable(replace(state, cables=cables, cable=cables[0] if cables else None), seen)

    def standing(self, state: TestsTyped) -> Standing | None:
        """The readings of the cable that was typed last."""
        return state.stands

    def head_changed(self, state: TestsTyped, seen: Day) -> TestsTyped:
        """Who and when changed: the rows say it."""
        return _read(state, seen) if state.typed.get(state.source) and state.columns else state

    def blocks_saving(self, state: TestsTyped) -> tuple[str, ...]:
        """A figure that is none waits to be put right, whichever cable is shown."""
        return tuple(f"the tests have something to put right: {f[0][2]}" for f in state.faults.values() if f)

    def begun(self, state: TestsTyped) -> bool:
        """Tell whether something was typed."""
        return bool(state.typed)

    def take_out(self, state: TestsTyped, source: str) -> TestsTyped:
        """What was wrong with it hinders nobody any more; what was typed stands in the grid."""
        return replace(state, faults={s: f for s, f in state.faults.items() if s != source})

    def forget(self, state: TestsTyped) -> TestsTyped:
        """Begin afresh after a save."""
        return replace(state, typed={}, faults={}, stands=None)

    def to_json(self, state: TestsTyped) -> dict[str, Any]:
        """The selection and what stands in the grids."""
        typed = {source: [dict(c) for c in cells] for source, cells in state.typed.items()}
        return {"chosen": {n: getattr(state, n) for n in CHOSEN}, "typed": typed}

    def from_json(self, kept: Mapping[str, Any]) -> TestsTyped:
        """Back again; a choice that is none is left as it is at the beginning."""
        chosen, typed = dict(kept.get("chosen", {})), kept.get("typed", {})
        found = {n: chosen[n] for n in CHOSEN if chosen.get(n) and chosen[n] in CHOICES.get(n, (chosen[n],))}
        if not all(isinstance(v, str) for v in found.values()):
            raise TypeError("no tests as they were kept")
        return TestsTyped(**found, typed={str(source): _cells(cells) for source, cells in typed.items()})

    # --- as it is shown ----------------------------------------------------------------------------------------------
    def build(self, page: Shown[TestsTyped, Day]) -> Sequence[w.Widget]:
        """The caution, what is chosen, and the grid."""
        self.controls = {
            "cable": dropdown("Cable", told_by_watch, "test-cable"),
            "method": dropdown("Method", told_by_watch, "test-method", CHOICES["method"]),
            "windows": text("Wavelengths (nm)", told_by_watch, "test-windows"),
            "direction": dropdown("Direction", told_by_watch, "test-direction", CHOICES["direction"]),
            "reference": dropdown("Reference method", told_by_watch, "test-reference", CHOICES["reference"]),
            "instrument": text("Instrument", told_by_watch, "test-instrument"),
        }
        for of, control in self.controls.items():
            page.watch(control, of)
        self.note = html("", "fb-test-note")
        self.grid = Grid(lambda subject: page.say(late_words(subject), "wrong"))
        self.grid.add_class("fb-test-grid")
        self.grid.observe(lambda _: page.tell(Event("values", self.grid.values)) if self.grid.rows else None, "values")
        return [
            html(f"<div class='fb-caution'><b>Caution, before looking for light:</b> {EYES}</div>"),
            row(*self.controls.values()),
            self.note,
            self.grid,
        ]

    def show(self, state: TestsTyped, seen: Day) -> None:
        """A check needs no wavelengths and no direction; without a cable there is no grid."""
        check = state.method == CHECK
        offer(self.controls["cable"], list(state.cables))
        for of, control in self.controls.items():
            control.value = getattr(state, of)
            if of in ("windows", "direction", "reference"):
                control.layout.display = "none" if check else None
        nms, wrong = wavelengths_of(state.windows)
        self.note.value = wrong or (
            "A verdict for each core whose light was looked for." if check
            else "Type a loss, or paste a block: one line a core, one column a wavelength."
        )  # fmt: skip
        if not state.columns:
            self.grid.show("", [], [], [])
            return
        losses = [] if check else [col(f"loss_{nm}", f"{nm} nm (dB)", "entry", numeric=True) for nm in nms]
        columns = [*core_columns(state.cores), *losses, col("verdict", "Verdict", "choice", options=VERDICTS)]
        self.grid.show(f"{state.cable}: {state.method}", columns, [core_row(c) for c in state.cores], state.values)
        self.grid.mark(state.faults.get(state.source, ()))


def _cells(given: Sequence[Mapping[str, Any]]) -> Cells:
    return tuple(dict(cells) for cells in given)


def _cores(cable: str | None, seen: Day) -> tuple[Mapping[str, Any], ...]:
    return tuple(c for c in seen.cores().to_pylist() if c["cable"] == cable)


def _of_cable(state: TestsTyped, seen: Day) -> TestsTyped:
    """The state with another cable; its usual wavelengths are proposed where nothing is typed of it yet."""
    now = replace(state, cores=_cores(state.cable, seen))
    if state.cable is None or state.source in state.typed:
        return now
    classes = {c["cable"]: c["fibre_class"] for c in seen.tables()["cables"].to_pylist()}
    return replace(now, windows=usual_windows(classes.get(state.cable)))


def _read(state: TestsTyped, seen: Day) -> TestsTyped:
    """The state with the rows that its grid makes."""
    about = {"instrument": state.instrument.strip() or None, "tested_on": seen.on, "tested_by": seen.by}
    if state.method == LOSS:
        about |= {"direction": state.direction or None, "reference_method": state.reference or None}
    nms, _ = wavelengths_of(state.windows)
    rows, faults = readings_of(
        seen.tables(but=state.source), seen.site, state.cable or "", [c["core"] for c in state.cores], state.values,
        state.method, nms, about,
    )  # fmt: skip
    title = f"{state.cable}: {len(rows)} {state.method}{'' if len(rows) == 1 else 's'}"
    stands = Standing(state.source, title, {"tests": rows})
    return replace(state, stands=stands, faults={**state.faults, state.source: tuple(faults)})
