"""Any list in: choose or paste it, see it beside what was understood, answer, point and correct, bring it in."""

from __future__ import annotations

import os
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ipywidgets as w

from fibrebook.readers.lists.asking import Question
from fibrebook.screens.exchange.bring_in_model import files_in
from fibrebook.screens.exchange.lists.asked import Questions
from fibrebook.screens.exchange.lists.found_view import FoundView
from fibrebook.screens.exchange.lists.into_register import IntoRegister
from fibrebook.screens.exchange.lists.model import AnyList
from fibrebook.screens.exchange.lists.pointing import Pointing
from fibrebook.screens.exchange.lists.shown import ListShown, Understood, counted, first_with_a_table, frame_of
from fibrebook.screens.exchange.uploads import laid_down
from fibrebook.screens.frame.later import Later
from fibrebook.screens.frame.screen import Picker, Screen, button, html, row, section
from fibrebook.screens.widgets.controls import Steps
from fibrebook.screens.widgets.row_picker import picking_table

if TYPE_CHECKING:
    from fibrebook.register import Register

TAKES = ".xlsx,.xls,.ods,.csv,.tsv,.txt,.md,.html,.htm"
ENDINGS = tuple(TAKES.split(","))
INITIAL = {"description_width": "initial"}
CAUTION = (
    "A list says what somebody once wrote, not what is there. Nobody cuts, opens or unplugs by it: identify and test "
    "the core first."
)
NOT_SAID = "nothing kept"
SIGNS = (
    "<div>A cell with <b>?</b> waits for an answer; one in <i>slanting letters on grey</i> is left out by a rule that "
    "it tells; blue frames are the cells of the record or question chosen.</div>"
)


def any_list(reg: Register | None = None, path: str | os.PathLike[str] = "") -> AnyListScreen:
    """Show the screen that brings a list of any shape into a register (default: the one of `which_register`)."""
    return AnyListScreen(reg, path)


class AnyListScreen(Screen):
    """The screen; `model` holds what it does."""

    def __init__(self, reg: Register | None = None, path: str | os.PathLike[str] = "") -> None:
        super().__init__(reg, "Any list in", CAUTION, name="any-list")
        self.model = AnyList(self.reg)
        self._sheet = ""
        self._records: list[Understood] = []
        self._shown: ListShown | None = None
        self._row = 0  # whose records are shown; 0 = those of all rows in view
        self._rest = Later(self._read_rest, 0.05)
        self._choosing = self._way_in()
        self._about, self._counts = html("", "fb-about-list"), html("", "fb-counts")
        self.before = w.Dropdown(description="Read as was said of", options=[(NOT_SAID, "")], style=INITIAL)
        self.before.add_class("fb-said-before")
        self.before.observe(self._said_before, "value")
        self.sheets = w.Dropdown(description="Sheet", options=[], style=INITIAL)
        self.sheets.add_class("fb-which-sheet")
        self.sheets.observe(lambda _: self._turn_sheet(), "value")
        self._signs = html(SIGNS, "fb-signs")
        self.view = FoundView(self._pointed, self._draw)
        self.records = picking_table(frame_of([]), "What was understood", self._record_chosen, page_rows=12)
        self.records.add_class("fb-understood")
        self._all_rows = button("Records of all rows shown", self._every_row, "fb-all-rows")
        self.questions = Questions(self.model, self._answered, self._show_question)
        self.pointing = Pointing(self._said_of)
        self._back = button("Take back what was said last", self._take_back, "fb-take-back", once=True)
        left = w.VBox([self.view, self._signs]).add_class("fb-list-half").add_class("fb-list-left")
        right = w.VBox([self.pointing, row(self._back), self.records, self._all_rows]).add_class("fb-list-half")
        halves = w.HBox([left, right]).add_class("fb-two")
        self.into = IntoRegister(self)
        self._parts = [
            w.VBox([self._about, self._counts, self.before]),
            self.questions,
            section("The sheet as found, and what was understood", row(self.sheets), halves),
            self.into,
        ]
        self.settle = w.VBox([])  # conflicts that wait for a decision
        self.body = [self._choosing, *self._parts, self.settle]
        self._hide()
        if path:
            self.file.value = str(path)
            self.take()

    def _way_in(self) -> w.Widget:
        self.file = Picker("File: type its path, or choose", files_in(Path.cwd(), ENDINGS), free=True)
        self.file.add_class("fb-file")
        self.upload = w.FileUpload(description="or upload one", accept=TAKES, multiple=False, icon="")
        self.upload.add_class("fb-upload")
        self.upload.observe(self._uploaded, "value")
        self.text = w.Textarea(description="Paste the table here", style=INITIAL, rows=6)
        self.text.add_class("fb-paste")
        self.text.layout.width = "100%"
        file = row(self.file, self.upload, button("Read it", self.take, "fb-look", once=True))
        paste = w.VBox([self.text, button("Read what is pasted", self.take_pasted, "fb-look-pasted", once=True)])
        return Steps({"A file": file, "A table to paste": paste}, "A file", "list")

    def _hide(self) -> None:
        for part in self._parts:
            part.layout.display = "none"

    def take(self) -> None:
        """Read the file named."""
        self._begin(lambda: self.model.choose(self.file.value))

    def take_pasted(self) -> None:
        """Read what is pasted."""
        self._begin(lambda: self.model.paste(self.text.value))

    def _uploaded(self, change: dict[str, Any]) -> None:
        target = laid_down(change["new"])
        if target is None:
            return
        self.file.value = str(target)
        self.take()
        if self.model.reading is not None:
            self.model.reading.book.folder = str(Path.cwd())  # what is kept aside is not left in a folder that goes

    def _begin(self, choose: Any) -> None:
        self._hide()
        self.settle.children = []

        def do() -> None:
            choose()
            self.say("")
            reading = self.model.chosen
            told = "; ".join(reading.book.says)
            self._about.value = f"<div><b>{escape(reading.book.name)}</b>{': ' + escape(told) if told else ''}.</div>"
            self.before.options = [(NOT_SAID, ""), *self.model.kept()]
            self.before.layout.display = None if self.model.kept() else "none"
            self.into.begin(Path(reading.book.name).stem)
            names = first_with_a_table(reading)
            self._sheet = ""
            self.sheets.options = names
            self.sheets.value = names[0] if names else None
            self.sheets.layout.display = None if len(names) > 1 else "none"
            self.view.chosen = [-1, -1]
            self._turn_sheet()
            for part in self._parts:
                part.layout.display = None

        self.guard(do)

    def _turn_sheet(self) -> None:
        if self.sheets.value is None or self.sheets.value == self._sheet:
            return
        self._sheet, self._row = self.sheets.value, 0
        self.view.marked = []
        self.view.first = 1
        self._all()

    @property
    def _seen(self) -> range:
        last = self._shown_now().last_row(self._sheet)
        return range(self.view.first, min(self.view.first + self.view.window, last + 1))

    def _shown_now(self) -> ListShown:
        if self._shown is None or self._shown.reading is not self.model.seen:
            self._shown = ListShown(self.model.seen)
        return self._shown

    def _all(self) -> None:
        """Show everything anew, after something was said."""
        self._shown = None
        self._draw()
        self.questions.show()
        self._count()
        self.into.show()
        self._back.layout.display = None if self.model.can_take_back else "none"

    def _draw(self) -> None:
        """Show the rows in view and their records."""
        if not self._sheet:
            return
        shown, seen = self._shown_now(), self._seen
        last = self.model.chosen.whole.grids if self.model.part is None else {}
        total = shown.last_row(self._sheet) if last else self.view.total
        self.view.show(f"Sheet {self._sheet}", shown.heads(self._sheet, seen), shown.rows(self._sheet, seen), total)
        self._draw_records()

    def _draw_records(self) -> None:
        rows = range(self._row, self._row + 1) if self._row else self._seen
        self._records = self._shown_now().records(self._sheet, rows)
        which = f"row {self._row}" if self._row else "the rows shown"
        self.records.caption = f"Understood of {which}: {len(self._records)} record{'s' * (len(self._records) != 1)}"
        self.records.page = 0
        self.records.show(frame_of(self._records))
        self._all_rows.layout.display = None if self._row else "none"

    def _count(self) -> None:
        if self.model.part is not None:
            told = "The rows shown are read anew; the rest of the list is being read."
        else:
            counts, every = self.model.chosen.counts(), sum(self.model.chosen.counts().values())
            asked = counts["question"]
            kinds = ", ".join(counted(kind, n) for kind, n in self._shown_now().totals()) or "nothing yet"
            told = (
                f"<b>{every} cells</b> = {counts['used']} used + {counts['left out']} left out + {asked} in question. "
                f"Understood: {escape(kinds)}."
            )
        self._counts.value = f"<div role='status' aria-live='polite'>{told}</div>"

    def _pointed(self, at_row: int, at_column: int) -> None:
        def do() -> None:
            self._row = at_row
            self.view.marked = []
            self._draw_records()
            self.pointing.show(self._shown_now(), self._sheet, (at_row, at_column), self._seen)

        if at_row >= 0:
            self.guard(do)

    def _every_row(self) -> None:
        self._row = 0
        self.view.marked = []
        self._draw_records()

    def _record_chosen(self, number: int) -> None:
        if 0 <= number < len(self._records):
            self.view.mark(self._records[number].cells)

    def _show_question(self, question: Question) -> None:
        cells = [(name, at) for name, at in question.cells if name]
        if not cells:
            return
        if cells[0][0] != self._sheet and cells[0][0] in self.sheets.options:
            self.sheets.value = cells[0][0]
        self.view.mark(at for name, at in cells if name == self._sheet)

    def _said_of(self, at_row: int | None, at_column: int | None, meaning: str) -> None:
        def do() -> None:
            self.model.say(self._sheet, at_row, at_column, meaning, self._seen)
            self.say("")
            self._after_said()

        self.guard(do)

    def _after_said(self) -> None:
        if self.model.part is not None:
            self._shown = None
            self._draw()
            self._count()
            self._rest.ask()
        else:
            self._all()
        row_, column = self.view.chosen
        if row_ >= 0:
            self.pointing.show(self._shown_now(), self._sheet, (row_, column), self._seen)

    def _read_rest(self) -> None:
        def do() -> None:
            self.model.read_all()
            self._all()

        self.guard(do)

    def _answered(self, key: str, value: str) -> None:
        def do() -> None:
            self.model.answer(key, value)
            self.say("")
            self.view.marked = []
            self._all()

        self.guard(do)

    def _take_back(self) -> None:
        def do() -> None:
            self.model.take_back()
            self._all()

        self.guard(do)

    def _said_before(self, change: dict[str, Any]) -> None:
        if self.model.reading is not None and change["new"] is not None:
            self.guard(lambda: self.model.read_as(change["new"]))
            self._all()
