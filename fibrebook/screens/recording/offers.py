"""Visits that were typed on this machine and not saved: each is offered, to go on with or to throw away."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as w

from fibrebook.errors import InputError
from fibrebook.register import Register
from fibrebook.screens.frame import drafts
from fibrebook.screens.frame.screen import button, html, row
from fibrebook.screens.recording.visit_draft import Day


class DraftOffers(w.VBox):
    """A line for each visit that waits, or is being typed in another page.

    `go_on` is called with the draft's file and what it holds. Call `look` as often as there may be news: what stands
    there is drawn anew only where it is another.
    """

    def __init__(self, reg: Register, screen: str, go_on: Callable[[Path, drafts.Content], Any]) -> None:
        super().__init__([])
        self._reg, self._screen, self._go_on = reg, screen, go_on
        self._shown: list[tuple[Path, str, bool]] = []

    def look(self, but: drafts.Draft) -> None:
        """Offer what there is now, without the screen's own draft."""
        self._own = but
        found = drafts.kept(self._reg.id, self._screen, but=but)
        now = [(path, str(kept.get("kept")), drafts.page_is_there(path)) for path, kept in found]
        if now != self._shown:
            self._shown = now
            self.children = [
                self._elsewhere(path, kept) if there else self._offer(path, kept)
                for (path, kept), (_, _, there) in zip(found, now, strict=True)
            ]

    def _offer(self, path: Path, kept: drafts.Content) -> w.HBox:
        words = html(f"<div class='fb-message'>{escape(self._draft_in_words(kept))}</div>")
        again = button("Go on with it", partial(self._go_on, path, kept), "fb-main", "fb-resume")
        return row(words, again, button("Throw it away", partial(self.discard, path), "fb-discard"))

    def _elsewhere(self, path: Path, kept: drafts.Content) -> w.HBox:
        told = f"Being typed in another page or notebook just now. {self._draft_in_words(kept)}"
        words = html(f"<div class='fb-message fb-elsewhere'>{escape(told)}</div>")
        return row(words, button("Take it over here", partial(self._go_on, path, kept), "fb-resume", once=True))

    def _draft_in_words(self, kept: drafts.Content) -> str:
        try:
            day = Day.from_json(self._reg, kept["content"].get("day"))
        except InputError as error:
            return f"Not saved, kept {kept.get('kept')}: {error.message}"
        parts = "; ".join(p.title for p in day.parts.values()) or "nothing complete yet"
        return f"Not saved: {day.site or 'no site yet'}, by {day.by or 'nobody yet'}, kept {kept.get('kept')}: {parts}"

    def discard(self, path: Path) -> None:
        """Throw a draft away."""
        draft = drafts.take_over(path, self._reg.id, self._screen) if path.exists() else None
        if draft is not None:
            draft.forget()
        self.look(self._own)
