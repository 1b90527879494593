"""Visits that were typed on this machine and not saved: each is offered, to go on with or to throw away."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as w

from fibrebook.errors import InputError
from fibrebook.forms import drafts
from fibrebook.forms.base import button, html, row
from fibrebook.forms.day import Day
from fibrebook.register import Register


class DraftOffers(w.VBox):
    """A line for each visit that waits; `go_on` is called with the draft's file and what it holds."""

    def __init__(self, reg: Register, screen: str, go_on: Callable[[Path, drafts.Content], Any]) -> None:
        super().__init__([])
        self._reg, self._screen, self._go_on = reg, screen, go_on

    def look(self, but: drafts.Draft) -> None:
        """Offer what waits now, without the screen's own draft."""
        self._own = but
        waiting = drafts.waiting(self._reg.id, self._screen, but=but)
        self.children = [self._offer(path, kept) for path, kept in waiting]

    def _offer(self, path: Path, kept: drafts.Content) -> w.HBox:
        words = html(f"<div class='fb-message'>{escape(self._told(kept))}</div>")
        again = button("Go on with it", partial(self._go_on, path, kept), "fb-main", "fb-resume")
        return row(words, again, button("Throw it away", partial(self.discard, path), "fb-discard"))

    def _told(self, kept: drafts.Content) -> str:
        try:
            day = Day.from_json(self._reg, kept["content"].get("day"))
        except InputError as error:
            return f"Not saved, kept {kept.get('kept')}: {error.message}"
        parts = "; ".join(p.title for p in day.parts.values()) or "nothing complete yet"
        return f"Not saved: {day.site or 'no site yet'}, by {day.by or 'nobody yet'}, kept {kept.get('kept')}: {parts}"

    def discard(self, path: Path) -> None:
        """Throw a draft away."""
        drafts.Draft(self._reg.id, self._screen, path).forget()
        self.look(self._own)
