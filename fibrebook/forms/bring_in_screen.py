"""Bring in a file: choose it, see how it is read and correct that, see every row's fate, settle conflicts, commit."""

from __future__ import annotations

import os
import tempfile
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ipywidgets as w

from fibrebook.errors import ConflictError, FibrebookError
from fibrebook.forms.base import Picker, Screen, button, html, row, section
from fibrebook.forms.bring_in_model import BringingIn, fates, files_in, words_of
from fibrebook.forms.conflicts import Conflicts
from fibrebook.forms.picking import picking_table
from fibrebook.workbook.guess_words import MEANINGS

if TYPE_CHECKING:
    from fibrebook.register import Register
    from fibrebook.workbook.report import Report

INITIAL = {"description_width": "initial"}
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
        self.way = w.Dropdown(description="Read as", options=[], style=INITIAL)
        self.site = w.Text(description="Site of every line", style=INITIAL, continuous_update=False)
        self.header = w.BoundedIntText(
            description="Header in row", min=1, max=10_000, style=INITIAL, continuous_update=False
        )
        self.by = w.Text(description="Your initials", style=INITIAL, continuous_update=False)
        self.why = w.Text(description="What for", style=INITIAL, continuous_update=False)
        for widget, name in (
            (self.way, "fb-way"), (self.site, "fb-line-site"), (self.header, "fb-header-row"), (self.by, "fb-by"),
            (self.why, "fb-why"),
        ):  # fmt: skip
            widget.add_class(name)
        self._how, self._preview, self._settle = w.VBox([]), w.VBox([]), w.VBox([])
        self._silent = False
        look = button("Look at it", self.take, "fb-look")
        self._commit = button("Bring it in", self.commit, "fb-main", "fb-commit")
        # one form for all looks: what is being typed outlives the next look
        self._saving = section("Bring it in as one commit", row(self.by, self.why, self._commit), self.said_here())
        self._saving.layout.display = "none"
        self.body = [row(self.file, self.upload, look), self._how, self._preview, self._saving, self._settle]
        self.upload.observe(self._uploaded, "value")
        self.way.observe(self._changed(lambda v: self.model.read_as(v)), "value")
        self.site.observe(self._changed(self._site_said), "value")
        self.header.observe(self._changed(lambda v: self.model.header_at(v)), "value")
        if path:
            self.file.value = str(path)
            self.take()

    # --- choosing and correcting -------------------------------------------------------------------------------------
    def take(self) -> None:
        """Take the file named, guess how it is read, and show what would come of it."""
        self._how.children = self._preview.children = self._settle.children = []
        self._saving.layout.display = "none"

        def choose() -> None:
            self.model.choose(self.file.value)
            self.say("")
            self._show()

        self.guard(choose)

    def _uploaded(self, change: dict[str, Any]) -> None:
        if not change["new"]:
            return
        one = change["new"][0]
        name = Path(str(one["name"]).replace("\\", "/")).name or "upload"
        target = Path(tempfile.mkdtemp(prefix="fibrebook-")) / name
        target.write_bytes(bytes(one["content"]))
        self.file.value = str(target)
        self.take()

    def _changed(self, act: Any) -> Any:
        def on(change: dict[str, Any]) -> None:
            if self._silent or self.model.guess is None:
                return

            def do() -> None:
                act(change["new"])
                self._show()

            self.guard(do)

        return on

    def _site_said(self, site: str) -> None:
        assert self.model.guess is not None
        self.model.guess.site = " ".join(site.split())

    def _show(self) -> None:
        """Show how the file is read, then what would come of it."""
        guess = self.model.guess
        assert guess is not None
        self._silent = True
        self.way.options, self.way.value = self.model.ways, self.model.way
        self.site.value = guess.site
        if guess.header_row:
            self.header.value = next(iter(guess.header_row.values()))
        self._silent = False
        says = "".join(f"<li>{escape(line)}</li>" for line in guess.says)
        parts: list[w.Widget] = [html(f"<ul>{says}</ul>", "fb-says")]
        if self.model.can_be_corrected:
            parts.append(row(self.way, self.header, *(() if "site" in guess.meant else (self.site,))))
            parts += [self._columns(), *self._spellings()]
        else:
            parts.append(row(self.way))
        self._how.children = [section("How it is read", *parts)]
        self._look()

    def _columns(self) -> w.VBox:
        guess = self.model.guess
        assert guess is not None
        options = [(words, name) for name, words in MEANINGS.items()]
        lines = []
        for column in guess.columns:
            told = f"{column.letter}: {column.heading}"
            choice = w.Dropdown(
                description=told, options=options, value=column.meaning, style=INITIAL, layout={"width": "28em"}
            )
            choice.add_class("fb-meaning")
            choice.observe(self._changed(lambda v, letter=column.letter: self.model.mean(letter, v)), "value")
            lines.append(
                row(choice, html(escape("such as " + ", ".join(column.examples) if column.examples else "blank")))
            )
        return w.VBox(lines)

    def _spellings(self) -> list[w.Widget]:
        guess = self.model.guess
        assert guess is not None
        found: list[w.Widget] = []
        for meaning, words in guess.spellings.items():
            fields = []
            for written, read in words.items():
                text = w.Text(description=f"{written} is", value=read, style=INITIAL, continuous_update=False)
                text.observe(self._changed(lambda v, m=meaning, s=written: self.model.spell(m, s, v.strip())), "value")
                fields.append(text)
            if fields:
                title = f"Spellings: {MEANINGS[meaning]} ({len(fields)})"
                box = w.Accordion([row(*fields)], titles=[title])
                box.add_class("fb-spellings")
                found.append(box)
        return found

    # --- looking and committing --------------------------------------------------------------------------------------
    def _look(self) -> None:
        self._preview.children = []
        try:
            report = self.model.look()
        except FibrebookError as error:
            self._saving.layout.display = "none"
            self.say(str(error), "wrong")
            return
        self.say("")
        self._preview.children = [self._report(report)]
        self._may_save(report)

    def _report(self, report: Report) -> w.VBox:
        parts: list[w.Widget] = [html(f"<p role='status'><b>{escape(report.summary())}</b></p>", "fb-summary")]
        for texts, title in ((report.problems, "What is wrong"), (report.notes, "Worth a look")):
            if texts:
                shown = "".join(f"<li>{escape(str(t))}</li>" for t in texts[:20])
                more = f"<li>and {len(texts) - 20} more, in the table</li>" if len(texts) > 20 else ""
                parts.append(html(f"<b>{title}</b><ul>{shown}{more}</ul>", "fb-problems"))
        frame = fates(report)
        if len(frame):
            table = picking_table(frame, "Every row's fate")
            table.add_class("fb-fates")
            parts.append(table)
        return section("What would come of it", *parts)

    def _may_save(self, report: Report) -> None:
        if not report.ok and not report.conflict:
            self._saving.layout.display = "none"
            none = "Nothing comes in while anything is wrong: correct how it is read, or mend the file."
            self._preview.children = [*self._preview.children, html(f"<p>{none}</p>")]
            return
        words = "Bring it in, and choose where others changed the same" if report.conflict else "Bring it in"
        self._commit.description = self._commit.tooltip = words
        self._saving.layout.display = None

    def commit(self) -> None:
        """Bring the file in."""
        try:
            number = self.model.commit(self.by.value, self.why.value)
        except ConflictError as error:
            self.say(words_of(error), "wrong")
            self._how.children = self._preview.children = []
            self._saving.layout.display = "none"
            waiting = Conflicts(self, lambda: None)
            waiting.look(error.pending or "")
            self._settle.children = [waiting]
            return
        except FibrebookError as error:
            self.say(str(error), "wrong")
            return
        self._finished(number)

    def _finished(self, number: int | None) -> None:
        self.watch.refresh()
        self._how.children = self._preview.children = self._settle.children = []
        self._saving.layout.display = "none"
        self.say(f"commit {number}; it can be undone from the history." if number else "nothing was to change.", "done")
