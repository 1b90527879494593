"""Record a visit: one screen, sections in the order of the work, one save."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from functools import partial
from typing import Any

import ipywidgets as w
from traitlets import TraitError

from fibrebook.errors import ConflictError, InputError
from fibrebook.register import Register
from fibrebook.screens.frame import drafts
from fibrebook.screens.frame.conflicts import CHANGED_TOO, Conflicts
from fibrebook.screens.frame.later import Later
from fibrebook.screens.frame.screen import EYES, Screen, SitePicker, button, html, row, section
from fibrebook.screens.recording.offers import DraftOffers
from fibrebook.screens.recording.summary import summary
from fibrebook.screens.recording.tray import TraySection
from fibrebook.screens.recording.visit_draft import Day
from fibrebook.screens.recording.which_sections import OnScreen, sections
from fibrebook.screens.widgets.controls import Steps

SCREEN = "record-visit"


class RecordVisit(Screen):
    """The visit's screen. What is typed stands in `day` and, a moment later, in a draft on this machine."""

    def __init__(self, reg: Register | None = None) -> None:
        super().__init__(reg, "Record a visit", caution=EYES, name="record-visit")
        self.day = Day(self.reg)
        self.draft = drafts.begin(self.reg.id, SCREEN)
        self._waits: dict[str, str] = {}
        self._saved = ""  # what the last save said, until something is typed
        self._quiet = False
        self.keep_draft = Later(lambda: self.guard(self._keep_draft), 0.2)
        self.sum_up = Later(self._sum_up, 0.5)
        self.site = SitePicker(self.reg)
        self.by = w.Text(description="Initials (needed)", style={"description_width": "auto"})
        self.by.add_class("fb-by")
        self.on = w.DatePicker(description="Date", value=dt.date.today(), style={"description_width": "auto"})
        self.on.add_class("fb-on-day")
        self.done = w.Text(description="What was done", style={"description_width": "auto"})
        self.done.add_class("fb-done-text")
        self.sections = sections(self, lambda: self.day)
        self._troubled(self.watch.trouble)  # a plugin's section may not be well
        self.steps = Steps({s.title: s for s in self.sections}, TraySection.title, "section")
        self.offers = DraftOffers(self.reg, SCREEN, lambda path, kept: self.guard(partial(self.resume, path, kept)))
        self.conflicts = Conflicts(self, self._after_conflict)
        self.parts = w.VBox([])
        self.summary = html("", "fb-summary")
        self.savers = [button("Save the visit", lambda: self.guard(self.save), "fb-main", "fb-save") for _ in "ab"]
        saving = section("What will be saved", self.parts, self.summary, row(self.savers[0]))
        saving.add_class("fb-save-area")
        head = row(self.site, self.by, self.on, self.done, self.savers[1])
        self.body = [self.offers, self.conflicts, head, self.steps, saving]
        self.site.observe(lambda _: self._site_chosen(), "value")
        for control in (self.by, self.on, self.done):
            control.observe(lambda _: self._head_changed(), "value")
        self.watch.subscribe(self._news)
        self.offers.look(but=self.draft)
        self._sum_up()

    # --- what sections ask of the visit ------------------------------------------------------------------------------
    def keep(self, source: str, title: str, put: Any) -> None:
        """Take a section's rows into the day."""
        self.day.keep(source, title, put)
        self.typed()

    def waits(self, source: str, words: str) -> None:
        """Note what of a section cannot be saved yet; "" = nothing."""
        if words:
            self._waits[source] = words
        else:
            self._waits.pop(source, None)

    def typed(self) -> None:
        """Something was typed: the draft and the summary follow a moment later."""
        if not self._quiet:
            self._saved = ""
            self.keep_draft.ask()
            self.sum_up.ask()

    def renew(self) -> None:
        """The day's records changed in a way that other sections build on: let them take notice."""
        for part in self.sections:
            self.guard(part.refresh)
        if not self._quiet:
            self.sum_up.ask()

    def needs_site(self, act: Callable[[], Any]) -> Callable[[], Any]:
        """Return the act, which is refused in words while no site is chosen."""

        def checked() -> Any:
            if not self.day.site:
                raise InputError("no site is chosen: choose it first")
            return act()

        return checked

    # --- head --------------------------------------------------------------------------------------------------------
    def _site_chosen(self) -> None:
        if self._quiet or self.site.value == self.day.site:
            return
        if self.day.parts:
            self.say(f"the visit holds work at {self.day.site}: save it, or take it out, before another site", "wrong")
            self.site.value = self.day.site
            return
        # where another cannot be read, what is shown is still the one before, and that is what stands chosen
        self.guard(self._turn_to_site, lambda: setattr(self.site, "value", self.day.site))

    def _turn_to_site(self) -> None:
        before, self.day.site = self.day.site, self.site.value
        try:
            self.day.tables()
        except BaseException:
            self.day.site = before
            raise
        self._forget()
        self.say("")
        self.renew()

    def _head_changed(self) -> None:
        if self._quiet:
            return
        self.day.sign(self.by.value.strip())
        self.day.done = self.done.value
        self.day.on = self.on.value.isoformat() if self.on.value else dt.date.today().isoformat()
        for part in self.sections:
            part.head_changed()
        self.typed()

    def _news(self, commit: int) -> None:
        """Somebody saved (perhaps we ourselves): show the register as it is now; what is typed stays."""
        self.conflicts.look(self.conflicts.name)
        if self.day.site:
            self.renew()

    # --- draft -------------------------------------------------------------------------------------------------------
    def _keep_draft(self) -> None:
        if not (self.day.parts or self.day.done or any(s.begun() for s in self.sections)):
            self.draft.forget()
            self.page.kept = ""
            return
        states = {s.name: s.kept() for s in self.sections}
        self.draft.save({"day": self.day.as_json(), "sections": states, "on": self.steps.on})
        self.page.kept = dt.datetime.now().strftime("%H:%M:%S") if self.draft.held else ""

    def page_heard(self) -> None:
        """Hold the draft as long as the page is there; see what others left or took."""
        self.draft.heard()
        if not self.draft.held and not self.savers[0].disabled:
            for saver in self.savers:
                saver.disabled = True
            self.say("this visit was taken over in another page: go on there. Nothing typed here is kept", "wrong")
        self.offers.look(but=self.draft)

    def page_leaves(self) -> None:
        """Let go of the draft, so that the next page may go on with it at once."""
        self.keep_draft.now()
        self.draft.let_go()

    def resume(self, path: Any, kept: dict[str, Any]) -> None:
        """Go on with a draft as it was left."""
        if self.day.parts or any(s.begun() for s in self.sections):
            raise InputError("something is typed here already: save it or take it out first, or open another page")
        taken = drafts.take_over(path, self.reg.id, SCREEN)
        content = dict(drafts.kept(self.reg.id, SCREEN)).get(path, kept)["content"]  # more may be typed since
        day = Day.from_json(self.reg, content.get("day"))
        typed = content.get("sections")
        typed = typed if isinstance(typed, dict) else {}
        self.draft.forget()
        self.draft = taken
        self._quiet = True
        try:
            self.day = day
            self.site.value, self.by.value, self.done.value = self.day.site, self.day.by, self.day.done
            self.on.value = dt.date.fromisoformat(self.day.on)
            for part in self.sections:
                self.guard(part.refresh)
            for part in self.sections:
                self._restore(part, typed.get(part.name, {}))
            if content.get("on") in [s.title for s in self.sections]:
                self.steps.turn_to(content["on"])
        finally:
            self._quiet = False
        self.offers.look(but=self.draft)
        self.say("what was typed is here again; it is not saved yet")
        self.typed()

    def _restore(self, part: OnScreen, state: Any) -> None:
        try:
            part.restore(state)
        except (LookupError, TypeError, ValueError, AttributeError, TraitError):
            self.say(f"what was typed under {part.title} is not as it was kept; type it again", "wrong")

    # --- what will be saved ------------------------------------------------------------------------------------------
    def _sum_up(self) -> None:
        self._troubled(self.watch.trouble)
        self.parts.children = [
            button(f"Take out: {part.title}", partial(self._take_out, source), "fb-take-out")
            for source, part in self.day.parts.items()
        ]
        self.summary.value = summary(self.day, self._waits.values())
        count = len(self.day.parts)
        words = f"Save the visit ({count} part{'' if count == 1 else 's'})" if count else "Save the visit"
        for saver in self.savers:
            saver.description = words

    def _take_out(self, source: str) -> None:
        self.day.drop(source)
        self._waits.pop(source, None)
        for part in self.sections:
            part.take_out(source)
        self.renew()

    def save(self) -> None:
        """Commit the visit; a conflict is shown side by side. Saved once is saved: asking again says so again."""
        if not self.draft.still_held():
            raise InputError("this visit was taken over in another page: save it there")
        self.sum_up.now()
        self.site.chosen_only()
        if self._waits:
            raise InputError("; ".join(self._waits.values()))
        if not self.day.parts:
            if self._saved:
                return self.say(self._saved, "done")
            raise InputError("nothing is recorded yet: tick what was made, or add a record")
        try:
            number = self.day.save()
        except ConflictError as error:
            self._begin_again()
            self.conflicts.look(error.pending or "")
            self.say(CHANGED_TOO, "wrong")
            return
        self._begin_again()
        self.watch.refresh()
        self._saved = f"saved as commit {number}" if number else "everything was recorded already; nothing was changed"
        left = [s.title for s in self.sections if s.begun()]
        if left:
            self._saved += f". Typed under {' and '.join(left)} and not added to the visit: that is not in it"
            self.keep_draft.ask()
        self.say(self._saved, "done")

    def _begin_again(self) -> None:
        """A new day at the same site by the same hand."""
        self.keep_draft.leave()
        self.draft.forget()
        self.draft = drafts.begin(self.reg.id, SCREEN)
        self.day = Day(self.reg, self.day.site, self.day.by, self.day.on)
        self._waits.clear()
        self._quiet = True
        try:
            self.done.value = self.page.kept = ""
            self._forget()
            for part in self.sections:
                self.guard(part.refresh)
        finally:
            self._quiet = False
        self._sum_up()

    def _forget(self) -> None:
        for part in self.sections:
            part.forget()

    def _after_conflict(self) -> None:
        if self.day.site:
            self.renew()


def record_visit(reg: Register | None = None) -> RecordVisit:
    """Show the screen for recording a day's work at a site; `reg` None = the register that `which_register` finds."""
    return RecordVisit(reg)
