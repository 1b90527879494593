"""The sections that a plugin adds to *Record a visit*, tried without a page."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from typing import Any

from fibrebook import plugins
from fibrebook.plugin_check.trial import DoesNotHoldError, Trial
from fibrebook.screens.recording.visit_draft import Day
from fibrebook.screens.recording.which_sections import OnScreen, sections


class VisitOnTrial:
    """What a screen does for its sections, as far as a trial needs it: rows go into a day, words are kept."""

    def __init__(self, day: Day) -> None:
        self.day, self.said = day, ""

    def keep(self, source: str, title: str, put: Any) -> None:
        """Take rows into the day."""
        self.day.keep(source, title, put)

    def waits(self, source: str, words: str) -> None:
        """What cannot be saved yet is nobody's here."""

    def typed(self) -> None:
        """No draft is kept."""

    def renew(self) -> None:
        """There are no others."""

    def say(self, text: str, how: str = "told") -> None:
        """Keep what was said last."""
        self.said = text

    def guard(self, act: Callable[[], Any]) -> Any:
        """Do it; what is raised, the step tells."""
        return act()

    def needs_site(self, act: Callable[[], Any]) -> Callable[[], Any]:
        """There is a site."""
        return act


def visit_sections(trial: Trial) -> str:
    """Its sections begin with nothing, follow the records, go into a draft and back, and are blank after a save."""
    site = trial.rows["sites"][0]["site"]
    on = dt.date.today().isoformat()
    visit = VisitOnTrial(Day(trial.reg, site, by="check", on=on))
    own = {one.name for plugin, one in plugins.gathered_sections() if plugin == trial.name}
    found = [s for s in sections(visit, lambda: visit.day) if s.name in own]
    for shown in found:
        _as_it_begins(shown, "before the records are seen")
        shown.refresh()
        _as_it_begins(shown, "over the records of a site")
        shown.restore(json.loads(json.dumps(shown.kept())))
        _as_it_begins(shown, "out of a draft in which nothing was typed")
        shown.head_changed()
        shown.take_out("a part of another section")
        shown.forget()
        _as_it_begins(shown, "after a save")
    if visit.day.parts:
        raise DoesNotHoldError(f"rows are in the visit though nothing was typed: {', '.join(visit.day.parts)}")
    return ", ".join(s.title for s in found) or "none"


def _as_it_begins(shown: OnScreen, when: str) -> None:
    if shown.begun() or shown.section.blocks_saving(shown.state):
        raise DoesNotHoldError(f"the section {shown.title!r} says that something was typed in it, {when}")
