"""How a file is read, on the screen that brings it in: corrected by drop-downs and boxes, kept as a layout."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from typing import Any

import ipywidgets as w

from fibrebook.errors import FibrebookError
from fibrebook.readers.guess.headings import MEANINGS
from fibrebook.readers.guess.what_it_holds import GuessedColumn
from fibrebook.screens.exchange.bring_in_model import BringingIn
from fibrebook.screens.frame.screen import button, html, row, section, words_of

INITIAL = {"description_width": "initial"}
OPTIONS = [(words, name) for name, words in MEANINGS.items()]


class HowItIsRead(w.VBox):
    """Shows the model's guess and takes corrections; `corrected` is called after each, inside `guard`.

    A box that is in use is never drawn anew: only what it holds changes, so that the hand stays where it is.
    """

    def __init__(self, model: BringingIn, guard: Callable[..., Any], corrected: Callable[[], Any]):
        self._model, self._guard, self._corrected = model, guard, corrected
        self._silent = False
        self.way = w.Dropdown(description="Read as", options=[], style=INITIAL)
        self.site = w.Text(description="Site of every line", style=INITIAL, continuous_update=False)
        self.header = w.BoundedIntText(
            description="Header in row", min=1, max=10_000, style=INITIAL, continuous_update=False
        )
        for widget, name in ((self.way, "fb-way"), (self.site, "fb-line-site"), (self.header, "fb-header-row")):
            widget.add_class(name)
        self._says = html("", "fb-says")
        self._meanings: dict[tuple[str, str], w.Dropdown] = {}
        self._column_box, self._spelling_box = w.VBox([]), w.VBox([])
        self._spelt: dict[tuple[str, str], w.Text] = {}
        self.name = w.Text(description="Name of the layout", style=INITIAL, continuous_update=False)
        self.name.add_class("fb-layout-name")
        self._kept = html("", "fb-layout-kept")
        keep = button("Keep this as a layout", self.keep, "fb-keep-layout")
        told = "Keep this way of reading for the next list of the same shape: it is offered from then on."
        self._keeping = w.VBox([html(f"<div>{told}</div>"), row(self.name, keep), self._kept])
        top = row(self.way, self.header, self.site)
        parts = [self._says, top, self._column_box, self._spelling_box, self._keeping]
        super().__init__([section("How it is read", *parts)])
        self.way.observe(self._changed(lambda v: self._model.read_as(v)), "value")
        self.site.observe(self._changed(self._site_said), "value")
        self.header.observe(self._changed(lambda v: self._model.header_at(v)), "value")
        self.layout.display = "none"

    def chosen(self) -> None:
        """Another file was chosen: propose its name for a layout, and show how it is read."""
        assert self._model.guess is not None
        self.name.value, self._kept.value = self._model.guess.path.stem, ""
        self.show()

    def show(self) -> None:
        """Show how the file is read now."""
        guess = self._model.guess
        assert guess is not None
        self._silent = True
        self._says.value = "<ul>" + "".join(f"<li>{escape(line)}</li>" for line in guess.says) + "</ul>"
        self._show_ways()
        self.site.value = guess.site
        if guess.header_row:
            self.header.value = next(iter(guess.header_row.values()))
        mending = self._model.can_be_corrected
        for part, there in (
            (self.header, mending), (self.site, self._model.can_say_site), (self._column_box, mending),
            (self._spelling_box, mending), (self._keeping, mending),
        ):  # fmt: skip
            part.layout.display = None if there else "none"
        if mending:
            self._show_columns(guess.columns)
            self._show_spellings(guess.spellings)
        self.layout.display = None
        self._silent = False

    def keep(self) -> None:
        """Keep how the file is read as a layout."""
        try:
            path = self._model.keep(self.name.value)
        except FibrebookError as error:
            self._kept.value = f"<div class='fb-message fb-wrong' role='status'>{escape(words_of(error))}</div>"
            return
        self._silent = True
        self._show_ways()
        self._silent = False
        told = f"kept as {path}; it is tried first from now on, and stands under Read as."
        self._kept.value = f"<div class='fb-message fb-done' role='status'><b>Done:</b> {escape(told)}</div>"

    def _show_ways(self) -> None:
        if list(self.way.options) != self._model.ways:
            self.way.options = self._model.ways
        self.way.value = self._model.way

    def _changed(self, act: Callable[[Any], Any]) -> Callable[[dict[str, Any]], None]:
        def on(change: dict[str, Any]) -> None:
            if self._silent or self._model.guess is None:
                return

            def do() -> None:
                act(change["new"])
                self._kept.value = ""
                self.show()
                self._corrected()

            self._guard(do, self.show)  # what was asked for cannot be: the controls show how it is read still

        return on

    def _site_said(self, site: str) -> None:
        assert self._model.guess is not None
        self._model.guess.site = " ".join(site.split())

    def _show_columns(self, columns: list[GuessedColumn]) -> None:
        keys = [(c.letter, c.heading) for c in columns]
        if keys != list(self._meanings):
            self._meanings = {key: self._meaning(column) for key, column in zip(keys, columns, strict=True)}
            self._column_box.children = [
                row(self._meanings[key], html(escape(_such_as(column)), "fb-examples"))
                for key, column in zip(keys, columns, strict=True)
            ]
        for key, column in zip(keys, columns, strict=True):
            self._meanings[key].value = column.meaning

    def _meaning(self, column: GuessedColumn) -> w.Dropdown:
        choice = w.Dropdown(
            description=f"{column.letter}: {column.heading}", options=OPTIONS, value=column.meaning, style=INITIAL,
            layout={"width": "28em"},
        )  # fmt: skip
        choice.add_class("fb-meaning")
        choice.observe(self._changed(lambda v: self._model.mean(column.letter, v)), "value")
        return choice

    def _show_spellings(self, spellings: dict[str, dict[str, str]]) -> None:
        keys = [(meaning, written) for meaning, words in spellings.items() for written in words]
        if keys != list(self._spelt):
            self._spelt = {key: self._spelling(*key) for key in keys}
            boxes = []
            for meaning in dict.fromkeys(meaning for meaning, _ in keys):
                fields = [field for (m, _), field in self._spelt.items() if m == meaning]
                box = w.Accordion([row(*fields)], titles=[f"Spellings: {MEANINGS[meaning]} ({len(fields)})"])
                box.add_class("fb-spellings")
                boxes.append(box)
            self._spelling_box.children = boxes
        for (meaning, written), field in self._spelt.items():
            field.value = spellings[meaning][written]

    def _spelling(self, meaning: str, written: str) -> w.Text:
        field = w.Text(description=f"{written} is", style=INITIAL, continuous_update=False)
        field.observe(self._changed(lambda v: self._model.spell(meaning, written, v.strip())), "value")
        return field


def _such_as(column: GuessedColumn) -> str:
    return "such as " + ", ".join(column.examples) if column.examples else "blank"
