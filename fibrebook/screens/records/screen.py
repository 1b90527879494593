"""The screen that adds, changes or removes one record of any kind; one save is one commit."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from typing import TYPE_CHECKING, Any

import ipywidgets as w

from fibrebook.errors import ConflictError, InputError
from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.values.to_columns import kind_of
from fibrebook.register import Register
from fibrebook.screens.frame.conflicts import CHANGED_TOO, Conflicts
from fibrebook.screens.frame.screen import Screen, SitePicker, button, html, row
from fibrebook.screens.records.fields import FormBox
from fibrebook.screens.records.model import Tables
from fibrebook.screens.widgets.picker import Picker, chosen_only

if TYPE_CHECKING:
    from fibrebook.register.commits.edit import Edit


class FormScreen(Screen):
    """Change one record of any kind, or add one; one save is one commit."""

    def __init__(self, reg: Register | None, kind: str) -> None:
        declared = kind_of(kind)
        super().__init__(reg, declared.singular.capitalize(), name="form")
        self.kind = declared
        self.own_site = declared.scope == "site" and declared.name != "sites"
        self.site = SitePicker(self.reg)
        self.which = Picker(f"Which {declared.singular}: blank = a new one", placeholder="type to find")
        self.box = FormBox(kind, self._tables, self._diff)
        self.by = w.Text(description="Initials (needed)", style={"description_width": "auto"})
        self.by.add_class("fb-by")
        self.diff = html("", "fb-diff")
        self.conflicts = Conflicts(self, lambda: self._news(0))
        self.body = [
            self.conflicts,
            html(f"<div class='fb-help'>{escape(declared.help)}</div>"),
            row(*([self.site] if self.own_site else []), self.which),
            self.box,
            self.diff,
            row(
                self.by,
                button("Save", lambda: self.guard(self.save), "fb-main", "fb-save"),
                button("Remove this record", lambda: self.guard(self.remove), "fb-remove", once=True),
                button("Clear", self.clear, "fb-clear"),
            ),
        ]
        self.site.observe(lambda _: self._site_chosen(), "value")
        self.which.observe(lambda _: self.guard(self._chosen, self._nothing), "value")
        self.watch.subscribe(self._news)
        self._asked: object = None  # the record, and what was typed, that a removal was asked about
        self._base = self.reg.commit
        self._news(0)

    def turn_to(self, site: str, thing: tuple[Any, ...] = ()) -> None:
        """Show a site's records; where sites are the records, that site."""
        if self.own_site:
            super().turn_to(site)
        elif site in self.box.model.records():
            self.which.value = site

    def _tables(self) -> Tables:
        site = self.site.value or None
        if self.own_site and site is None:
            return {k: v.empty() for k, v in KINDS.items()}
        found = self.reg.tables(site if self.own_site else None)
        return found | {"cores": self.reg.cores(site)} if self.own_site else found

    def _news(self, commit: int) -> None:
        self.guard(self._as_now)

    def _as_now(self) -> None:
        self.conflicts.look(self.conflicts.name)
        self.box.refresh(self.site.value)
        self.which.offer(self.box.model.records())

    def _site_chosen(self) -> None:
        """Another site: a record that was chosen belongs to the one before."""
        if self.box.model.key is not None:
            self.clear()
        self.guard(self._as_now, self._nothing)

    def _nothing(self) -> None:
        """What is chosen cannot be read: no other's record stays in the fields."""
        self.which.clear()
        self.which.offer([])
        self.box.load(None)
        self._diff()

    def _chosen(self) -> None:
        self._asked = None
        self._base = self.reg.commit
        self.box.load(self.box.model.records().get(self.which.value))
        self._diff()

    def clear(self) -> None:
        """Begin a new record."""
        self.which.clear()
        self.box.load(None)
        self._diff()
        self.say("")

    def _diff(self) -> None:
        if self.box.model.key is None:
            self.diff.value = ""
            return
        lines = [
            f"<li>{escape(t)}: {escape(b or 'blank')} → {escape(a or 'blank')}</li>"
            for t, b, a in self.box.model.changes()
        ]
        self.diff.value = f"<ul>{''.join(lines)}</ul>" if lines else "Nothing changed."

    def save(self) -> None:
        """Commit what is typed; a record that was new is then the one that is changed."""
        chosen_only(self.site, self.which)
        typed = self.box.complete()
        singular, old = self.kind.singular, self.box.model.key

        def act(edit: Edit) -> None:
            new = tuple(typed[k] for k in self.kind.key)
            if old is not None and _texts(new) != _texts(old) and self.own_site:
                edit.rename(self.kind.name, self.site.value, *(_own(self.kind.key, k) for k in (old, new)))
            edit.put(self.kind.name, [typed])

        number = self._commit(f"{singular} {'changed' if old else 'added'}", act)
        self._base = self.watch.refresh()
        if old is None:
            self._as_now()
            key = tuple(typed[k] for k in self.kind.key)
            self.which.value = next((t for t, k in self.box.model.records().items() if _texts(k) == _texts(key)), "")
        self.say(f"saved as commit {number}" if number else "nothing was changed", "done")

    def _commit(self, why: str, act: Callable[[Edit], None]) -> int | None:
        """Do something in an edit; where others changed the same, show both side by side, and raise."""
        try:
            with self.reg.edit(by=self.by.value, why=why, base=self._base) as edit:
                act(edit)
        except ConflictError as error:
            self.conflicts.look(error.pending or "")
            raise ConflictError(CHANGED_TOO, error.problems) from error
        return edit.commit

    def remove(self) -> None:
        """Remove the record, after asking once."""
        key = self.box.model.key
        if key is None:
            raise InputError("no record is chosen: choose the one to remove")
        asked = (key, self.box.model.changes())
        if asked != self._asked:  # what was typed since, or another record, is another question
            self._asked = asked
            self.say("Remove this record? Press Remove again to do it; history keeps it and an undo brings it back.")
            return
        self._asked = None
        number = self._commit(f"{self.kind.singular} removed", lambda edit: edit.remove(self.kind.name, [key]))
        self.clear()
        self.watch.refresh()
        self.say(f"removed by commit {number}", "done")


def _texts(key: tuple[Any, ...]) -> list[str]:
    return ["" if v is None else str(v) for v in key]


def _own(names: tuple[str, ...], key: tuple[Any, ...]) -> tuple[Any, ...]:
    return tuple("" if v is None else v for n, v in zip(names, key, strict=True) if n != "site")


def form(kind: str, reg: Register | None = None) -> FormScreen:
    """Show a form for one kind of record ("cables", "snags" ...): add one, change one, remove one."""
    return FormScreen(reg, kind)


def sites(reg: Register | None = None) -> FormScreen:
    """Show the form for sites: make a new one, or change what is known of one."""
    return FormScreen(reg, "sites")
