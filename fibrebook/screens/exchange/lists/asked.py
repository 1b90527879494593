"""What is asked of a list, one question at a time: proposed answers, what follows from each, another answer, later."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from html import escape
from typing import Any

import ipywidgets as w

from fibrebook.readers.lists.asking import Question
from fibrebook.screens.exchange.lists.model import AnyList
from fibrebook.screens.exchange.lists.shown import place_of
from fibrebook.screens.frame.screen import button, html, row, section

MOST_WAYS = 8
NEEDED = ("sentence", "site", "spelling")  # questions of no cell in particular, without whose answer nothing comes in
SHOW = "Show the cells"


class Questions(w.VBox):
    """Shows one question of the model's list; its buttons stay where they are when the next one comes.

    Parameters
    ----------
    answered : called with the question's key and an answer; shown : called with a question whose cells are to be shown
    """

    def __init__(
        self, model: AnyList, answered: Callable[[str, str], Any], shown: Callable[[Question], Any]
    ) -> None:  # fmt: skip
        self._model, self._answered, self._shown = model, answered, shown
        self._at = ""
        self._text = html("", "fb-question")
        self._ways = [button("", partial(self._way, n), "fb-way-to-answer", once=True) for n in range(MOST_WAYS)]
        self._follows = [html("", "fb-follows") for _ in range(MOST_WAYS)]
        self._rows = [row(b, f).add_class("fb-answer") for b, f in zip(self._ways, self._follows, strict=True)]
        self.own = w.Text(
            description="or another answer", style={"description_width": "initial"}, continuous_update=False
        )
        self.own.add_class("fb-own-answer")
        send = button("Answer so", self._own_answer, "fb-answer-so", once=True)
        later = button("Ask me later", self.later, "fb-later")
        self._cells = button(SHOW, self._show_cells, "fb-show-cells")
        self._open = w.VBox([self._text, *self._rows, row(self.own, send), row(self._cells, later)])
        self._none = html("<div class='fb-no-question'>Nothing is asked any more.</div>")
        super().__init__([section("Questions", self._open, self._none)])

    @property
    def question(self) -> Question | None:
        """The question shown."""
        asked = self._model.chosen.asked
        return next((q for q in asked if q.key == self._at), asked[0] if asked else None)

    def show(self) -> None:
        """Show the question that is asked now: the one that was shown, if it still is, else the first."""
        asked, question = self._model.chosen.asked, self.question
        self._open.layout.display = None if question else "none"
        self._none.layout.display = "none" if question else None
        if question is None:
            self._text.value = ""
            return
        self._at = question.key
        number = asked.index(question) + 1
        place = place_of(question)
        stands = f"<div class='fb-quiet'>In {escape(place)}.</div>" if place else ""
        waits = "" if question.waits or question.key.startswith(NEEDED) else " It holds nothing up."
        self._text.value = (
            f"<div role='status' aria-live='polite'><b>Question {number} of {len(asked)}.</b> "
            f"{escape(question.what)}{waits}{stands}</div>"
        )
        self._cells.layout.display = None if place else "none"
        follows = self._model.follows(question)
        for n, (one, told, line) in enumerate(zip(self._ways, self._follows, self._rows, strict=True)):
            there = n < len(question.proposals)
            line.layout.display = None if there else "none"
            if there:
                one.description = one.tooltip = question.proposals[n]
                told.value = escape(follows[n])
        self.own.value = ""

    def later(self) -> None:
        """Show the next question, and leave this one open."""
        asked, question = self._model.chosen.asked, self.question
        if question is not None:
            self._at = asked[(asked.index(question) + 1) % len(asked)].key
            self.show()

    def _way(self, number: int) -> None:
        question = self.question
        if question is not None and number < len(question.proposals):
            self._answered(question.key, question.proposals[number])

    def _own_answer(self) -> None:
        question = self.question
        if question is not None:
            self._answered(question.key, self.own.value)

    def _show_cells(self) -> None:
        question = self.question
        if question is not None:
            self._shown(question)
