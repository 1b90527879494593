"""A list that was read, into the register: what would come of it, one commit, what was said kept for the next."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

import ipywidgets as w

from fibrebook.errors import ConflictError, FibrebookError
from fibrebook.screens.exchange.bring_in_model import fates, first_line
from fibrebook.screens.exchange.lists.shown import frame_of
from fibrebook.screens.frame.conflicts import Conflicts
from fibrebook.screens.frame.screen import button, html, row, section, words_of
from fibrebook.screens.widgets.row_picker import picking_table

if TYPE_CHECKING:
    from fibrebook.readers.files.report import Report
    from fibrebook.screens.exchange.lists.any_list_screen import AnyListScreen

INITIAL = {"description_width": "initial"}
BRING_ALL, BRING_SOUND = "Bring it in", "Bring in what is sound, keep the rest aside"


class IntoRegister(w.VBox):
    """The last part of the screen: a dry run, who and what for, the commit; what was said kept under a name."""

    def __init__(self, screen: AnyListScreen) -> None:
        self._screen, self._model = screen, screen.model
        self.by = w.Text(description="Your initials", style=INITIAL, continuous_update=False)
        self.why = w.Text(description="What for", style=INITIAL, continuous_update=False)
        self.name = w.Text(description="Name of this shape of list", style=INITIAL, continuous_update=False)
        for box, name in ((self.by, "fb-by"), (self.why, "fb-why"), (self.name, "fb-layout-name")):
            box.add_class(name)
        look = button("See what would come of it", self.look, "fb-dry-run", once=True)
        self.button = button(BRING_ALL, self.commit, "fb-main", "fb-commit")
        self.report = html("", "fb-summary")
        self._fates = picking_table(frame_of([]), "Every row's fate")
        self._fates.add_class("fb-fates")
        self._fates.layout.display = "none"
        self.kept = html("", "fb-layout-kept")
        keep = row(self.name, button("Keep what was said for the next such list", self.keep, "fb-keep-layout"))
        parts = (row(look), self.report, self._fates, row(self.by, self.why, self.button), screen.said_here(), keep)
        super().__init__([section("Bring it in as one commit", *parts, self.kept)])
        self._tell(None)

    def begin(self, name: str) -> None:
        """Another list was chosen, of such a name."""
        self.name.value, self.kept.value = name, ""

    def show(self) -> None:
        """Show what may be done with the list as it is read now."""
        self._tell(None)
        self.button.description = self.button.tooltip = BRING_SOUND if self._model.chosen.asked else BRING_ALL

    def look(self) -> None:
        """Show what would come of it; nothing is stored."""
        self._screen.guard(lambda: self._tell(self._model.look()), lambda: self._tell(None))

    def _tell(self, report: Report | None) -> None:
        self.report.layout.display = None if report else "none"
        if report is None:
            self.report.value, self._fates.layout.display = "", "none"
            return
        told = "".join(
            f"<b>{title}</b><ul>{''.join(f'<li>{escape(str(t))}</li>' for t in texts[:20])}</ul>"
            for texts, title in ((report.problems, "What is wrong"), (report.notes, "Worth a look"))
            if texts
        )
        self.report.value = f"<div role='status'><b>{escape(report.summary())}</b></div>{told}"
        frame = fates(report)
        self._fates.show(frame)
        self._fates.layout.display = None if len(frame) else "none"

    def keep(self) -> None:
        """Keep what was said for the next list of this shape."""
        try:
            path = self._model.keep(self.name.value)
        except FibrebookError as error:
            self.kept.value = f"<div class='fb-message fb-wrong' role='status'>{escape(words_of(error))}</div>"
            return
        told = f"kept as {path.name}; the next list offers it under Read as was said of."
        self.kept.value = f"<div class='fb-message fb-done' role='status'><b>Done:</b> {escape(told)}</div>"

    def commit(self) -> None:
        """Bring the list in: all of it, or what is sound where questions are open."""
        screen = self._screen
        try:
            report = self._model.commit(self.by.value, self.why.value, bool(self._model.chosen.asked))
        except ConflictError as error:
            screen.say(first_line(error), "wrong")
            waiting = Conflicts(screen, lambda: None)
            waiting.look(error.pending or "")
            screen.settle.children = [waiting]
            return
        except (FibrebookError, OSError) as error:
            screen.say(words_of(error), "wrong")
            return
        screen.watch.refresh()
        made = f"commit {report.commit}; it can be undone from the history." if report.commit else ""
        screen.say(" ".join([made or "nothing was to change.", *report.notes]), "done")
        self._tell(report)
