"""Bring in a file: choose it, see how it is read and correct that, see every row's fate, settle conflicts, commit."""

from __future__ import annotations

import os
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ipywidgets as w

from fibrebook.errors import ConflictError, FibrebookError
from fibrebook.screens.exchange.bring_in_how import INITIAL, HowItIsRead
from fibrebook.screens.exchange.bring_in_model import BringingIn, fates, files_in, first_line
from fibrebook.screens.exchange.uploads import laid_down
from fibrebook.screens.frame.conflicts import Conflicts
from fibrebook.screens.frame.screen import Picker, Screen, Table, button, html, row, section, words_of
from fibrebook.screens.widgets.row_picker import picking_table

if TYPE_CHECKING:
    from fibrebook.readers.files.report import Report
    from fibrebook.register import Register

TAKES = ".xlsx,.ods,.csv"


def bring_in(reg: Register | None = None, path: str | os.PathLike[str] = "") -> BringIn:
    """Show the screen that brings a file into a register (default: the one of `which_register`)."""
    return BringIn(reg, path)


class BringIn(Screen):
    """The screen; `model` holds what it does."""

    def __init__(self, reg: Register | None = None, path: str | os.PathLike[str] = "") -> None:
        super().__init__(reg, "Bring in", name="bring-in")
        self.model = BringingIn(self.reg)
        self.file = Picker("File: type its path, or choose", files_in(Path.cwd()), free=True)
        self.file.add_class("fb-file")
        self.upload = w.FileUpload(description="or upload one", accept=TAKES, multiple=False, icon="")
        self.upload.add_class("fb-upload")
        self.by = w.Text(description="Your initials", style=INITIAL, continuous_update=False)
        self.why = w.Text(description="What for", style=INITIAL, continuous_update=False)
        self.by.add_class("fb-by")
        self.why.add_class("fb-why")
        self.how = HowItIsRead(self.model, self.guard, self._look)
        self._settle = w.VBox([])
        self._summary, self._problems, self._none = html("", "fb-summary"), html("", "fb-problems"), html("")
        self._fates: Table | None = None
        self._cannot = html("", "fb-cannot")  # beside the corrections, which may be far below the screen's own message
        self._report = section("What would come of it", self._summary, self._problems)
        self._always = self._report.children
        self._report.layout.display = "none"
        look = button("Look at it", self.take, "fb-look")
        self._commit = button("Bring it in", self.commit, "fb-main", "fb-commit")
        # one form for all looks: what is being typed outlives the next look
        self._saving = section("Bring it in as one commit", row(self.by, self.why, self._commit), self.said_here())
        self._saving.layout.display = "none"
        self.body = [
            row(self.file, self.upload, look),
            self.how,
            self._cannot,
            self._report,
            self._saving,
            self._settle,
        ]
        self.upload.observe(self._uploaded, "value")
        if path:
            self.file.value = str(path)
            self.take()

    def take(self) -> None:
        """Take the file named, guess how it is read, and show what would come of it."""
        self._hide()
        self._settle.children = []
        self._fates = None  # another file: its table begins at the first page, without a search

        def choose() -> None:
            self.model.choose(self.file.value)
            self.say("")
            self.how.chosen()
            self._look()

        self.guard(choose)

    def _uploaded(self, change: dict[str, Any]) -> None:
        target = laid_down(change["new"])
        if target is None:
            return
        self.file.value = str(target)
        self.take()

    def _hide(self) -> None:
        for part in (self.how, self._report, self._saving):
            part.layout.display = "none"
        self._cannot.value = ""

    def _look(self) -> None:
        try:
            report = self.model.look()
        except FibrebookError as error:
            self._report.layout.display = self._saving.layout.display = "none"
            self.say(words_of(error), "wrong")
            self._cannot.value = f"<div class='fb-message fb-wrong'>{escape(words_of(error))}</div>"
            return
        self.say("")
        self._cannot.value = ""
        self._show_report(report)
        self._may_save(report)

    def _show_report(self, report: Report) -> None:
        self._summary.value = f"<p role='status'><b>{escape(report.summary())}</b></p>"
        shown_texts = ""
        worth = [*report.notes, *report.said.words]
        for texts, title in ((report.problems, "What is wrong"), (worth, "Worth a look")):
            if texts:
                shown = "".join(f"<li>{escape(str(t))}</li>" for t in texts[:20])
                more = f"<li>and {len(texts) - 20} more</li>" if len(texts) > 20 else ""
                shown_texts += f"<b>{title}</b><ul>{shown}{more}</ul>"
        self._problems.value = shown_texts
        frame = fates(report)
        if self._fates is None:
            self._fates = picking_table(frame, "Every row's fate")
            self._fates.add_class("fb-fates")
            self._report.children = [*self._always, self._fates, self._none]
        else:
            self._fates.show(frame)
        self._fates.layout.display = None if len(frame) else "none"
        self._report.layout.display = None

    def _may_save(self, report: Report) -> None:
        if not report.ok and not report.conflict:
            self._saving.layout.display = "none"
            self._none.value = (
                "<p>Nothing comes in while anything is wrong: correct how it is read, or mend the file.</p>"
            )
            return
        self._none.value = ""
        words = "Bring it in, and choose where others changed the same" if report.conflict else "Bring it in"
        self._commit.description = self._commit.tooltip = words
        self._saving.layout.display = None

    def commit(self) -> None:
        """Bring the file in."""
        try:
            number = self.model.commit(self.by.value, self.why.value)
        except ConflictError as error:
            self.say(first_line(error), "wrong")
            self._hide()
            waiting = Conflicts(self, lambda: None)
            waiting.look(error.pending or "")
            self._settle.children = [waiting]
            return
        except FibrebookError as error:
            self.say(words_of(error), "wrong")
            return
        self._finished(number)

    def _finished(self, number: int | None) -> None:
        self.watch.refresh()
        self._hide()
        self._settle.children = []
        self.say(f"commit {number}; it can be undone from the history." if number else "nothing was to change.", "done")
