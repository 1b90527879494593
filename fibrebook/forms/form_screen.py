"""The screen that adds, changes or removes one record of any kind; one save is one commit."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from typing import TYPE_CHECKING, Any

import ipywidgets as w

from fibrebook.errors import ConflictError, InputError
from fibrebook.forms.base import Screen, SitePicker, button, html, row
from fibrebook.forms.conflicts import CHANGED_TOO, Conflicts
from fibrebook.forms.fields import FormBox
from fibrebook.forms.model import Tables
from fibrebook.forms.picker import Picker
from fibrebook.records.convert import kind_of
from fibrebook.records.kinds import KINDS
from fibrebook.register import Register

if TYPE_CHECKING:
    from fibrebook.register.edit import Edit


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
                button("Remove this record", lambda: self.guard(self.remove), "fb-remove"),
                button("Clear", self.clear, "fb-clear"),
            ),
        ]
        self.site.observe(lambda _: self._news(0), "value")
        self.which.observe(lambda _: self.guard(self._chosen), "value")
        self.watch.subscribe(self._news)
        self._sure = False
        self._base = self.reg.commit
        self._news(0)

    def _tables(self) -> Tables:
        site = self.site.value or None
        if self.own_site and site is None:
            return {k: v.empty() for k, v in KINDS.items()}
        found = self.reg.tables(site if self.own_site else None)
        return found | {"cores": self.reg.cores(site)} if self.own_site else found

    def _news(self, commit: int) -> None:
        self.conflicts.look(self.conflicts.name)
        self.box.refresh(self.site.value)
        self.which.offer(self.box.model.records())

    def _chosen(self) -> None:
        self._sure = False
        self._base = self.reg.commit
        self.box.load(self.box.model.records().get(self.which.value))
        self._diff()

    def clear(self) -> None:
        """Begin a new record."""
        self.which.value = ""
        self.box.load(None)
        self._diff()
        self.say("")

    def _diff(self) -> None:
        self._sure = False
        if self.box.model.key is None:
            self.diff.value = ""
            return
        lines = [
            f"<li>{escape(t)}: {escape(b or 'blank')} → {escape(a or 'blank')}</li>"
            for t, b, a in self.box.model.changes()
        ]
        self.diff.value = f"<ul>{''.join(lines)}</ul>" if lines else "Nothing changed."

    def save(self) -> None:
        """Commit what is typed."""
        typed = self.box.complete()
        singular, old = self.kind.singular, self.box.model.key

        def act(edit: Edit) -> None:
            new = tuple(typed[k] for k in self.kind.key)
            if old is not None and _texts(new) != _texts(old) and self.own_site:
                edit.rename(self.kind.name, self.site.value, *(_own(self.kind.key, k) for k in (old, new)))
            edit.put(self.kind.name, [typed])

        number = self._commit(f"{singular} {'changed' if old else 'added'}", act)
        self._base = self.watch.refresh()
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
        if not self._sure:
            self._sure = True
            self.say("Remove this record? Press Remove again to do it; history keeps it and an undo brings it back.")
            return
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
