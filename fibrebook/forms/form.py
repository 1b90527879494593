"""The form of any kind of record as widgets, and the screen that changes one record and saves it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from html import escape
from typing import Any

import ipywidgets as w

from fibrebook.errors import InputError
from fibrebook.forms.base import Screen, SitePicker, button, html, row
from fibrebook.forms.model import FormModel, Tables
from fibrebook.forms.picker import Picker
from fibrebook.records.convert import kind_of
from fibrebook.records.fields import Column
from fibrebook.records.kinds import KINDS
from fibrebook.register import Register


class Field(w.VBox):
    """One column: label, control, help, and what is wrong with what is typed."""

    def __init__(self, column: Column, changed: Callable[[str, str], Any]) -> None:
        self.column = column
        needed = " (needed)" if column.required else ""
        title = column.title + needed
        self._note = html("", "fb-note")
        if column.type == "date":
            self.control: Any = w.DatePicker(description=title)
        elif column.type == "yes/no" or (column.allowed and not column.open_list):
            self.control = w.Dropdown(description=title, options=[""])
        else:
            self.control = w.Combobox(description=title, ensure_option=False, continuous_update=True)
        self.control.style.description_width = "auto"
        self.control.add_class(f"fb-in-{column.name}")
        self.control.tooltip = column.help
        super().__init__([self.control, self._note])
        self.add_class("fb-field")
        self._quiet = False
        self.control.observe(lambda _: None if self._quiet else changed(column.name, self.typed), "value")
        self.told("")

    @property
    def typed(self) -> str:
        """What stands in the control, as text."""
        value = self.control.value
        return value.isoformat() if isinstance(value, dt.date) else (value or "")

    def fill(self, text: str, choices: list[str]) -> None:
        """Show a value and the choices there are, without telling anybody of a change."""
        self._quiet = True
        try:
            if isinstance(self.control, w.Dropdown):
                options = ["", *choices] + ([text] if text and text not in choices else [])
                if tuple(options) != tuple(self.control.options):
                    self.control.options = options
                self.control.value = text
            elif isinstance(self.control, w.DatePicker):
                self.control.value = dt.date.fromisoformat(text) if text else None
            else:
                if tuple(choices) != tuple(self.control.options):
                    self.control.options = choices
                if self.control.value != text:
                    self.control.value = text
        finally:
            self._quiet = False

    def told(self, fault: str) -> None:
        """Show what is wrong, or the help where nothing is."""
        words = f"<b>Wrong:</b> {escape(fault)}" if fault else escape(self.column.help)
        value = f"<div class='{'fb-fault' if fault else 'fb-help'}'>{words}</div>"
        if value != self._note.value:
            self._note.value = value
        (self.add_class if fault else self.remove_class)("fb-field-wrong")


class FormBox(w.VBox):
    """The fields of one record; a part of a screen.

    on_change is called after each change; faults are shown for the fields that were touched, all of them by `complete`.
    """

    def __init__(
        self,
        kind: str,
        tables: Callable[[], Tables],
        on_change: Callable[[], Any] | None = None,
        leave_out: tuple[str, ...] = (),
    ) -> None:
        self.tables = tables
        self.model = FormModel.of(kind, {k: v.empty() for k, v in KINDS.items()})
        self.fields = {
            c.name: Field(c, self._typed) for c in self.model.columns if not c.generated and c.name not in leave_out
        }
        self._touched: set[str] = set()
        self._on_change = on_change or (lambda: None)
        super().__init__([_flow(*self.fields.values())])

    def refresh(self, site: str) -> None:
        """Take the site's records as they are now; what is typed stays."""
        self.model.site, self.model.tables = site, self.tables()
        self._show()

    def load(self, key: tuple[Any, ...] | None) -> None:
        """Show a record that is there, or a blank one."""
        self._touched.clear()
        if key is None:
            self.model.clear()
        else:
            self.model.load(key)
        self._show()

    def state(self) -> dict[str, Any]:
        """Return what is typed, for a draft."""
        return {n: v for n, v in self.model.values.items() if v}

    def restore(self, state: dict[str, Any]) -> None:
        """Show again what a draft kept."""
        self.model.values.update(state)
        self._touched = set(state)
        self._show()

    def complete(self) -> dict[str, Any]:
        """Return the row typed.

        Raises
        ------
        InputError : something is wrong; it is marked in the fields
        """
        self._touched = set(self.fields)
        faults = self._show()
        if faults:
            named = "; ".join(f"{self.model.kind.by_name[n].title}: {t}" for n, t in faults.items())
            raise InputError(f"this {self.model.kind.singular} is not complete. {named}")
        return self.model.row()

    def _typed(self, name: str, text: str) -> None:
        self.model.values[name] = text
        self._touched.add(name)
        self._show()
        self._on_change()

    def _show(self) -> dict[str, str]:
        faults = self.model.faults()
        for name, field in self.fields.items():
            field.fill(self.model.values[name], self.model.choices(name))
            early = not self.model.values[name] and len(self._touched) < 2  # a form just begun is blank, not wrong
            field.told(faults.get(name, "") if name in self._touched and not early else "")
        return faults


def _flow(*children: Any) -> Any:
    box = row(*children)
    box.add_class("fb-fields")
    return box


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
        self.body = [
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
        with self.reg.edit(
            by=self.by.value, why=f"{singular} {'changed' if old else 'added'}", base=self._base
        ) as edit:
            new = tuple(typed[k] for k in self.kind.key)
            if old is not None and _texts(new) != _texts(old) and self.own_site:
                edit.rename(self.kind.name, self.site.value, *(_own(self.kind.key, k) for k in (old, new)))
            edit.put(self.kind.name, [typed])
        self._base = self.watch.refresh()
        self.say(f"saved as commit {edit.commit}" if edit.commit else "nothing was changed", "done")

    def remove(self) -> None:
        """Remove the record, after asking once."""
        key = self.box.model.key
        if key is None:
            raise InputError("no record is chosen: choose the one to remove")
        if not self._sure:
            self._sure = True
            self.say("Remove this record? Press Remove again to do it; history keeps it and an undo brings it back.")
            return
        with self.reg.edit(by=self.by.value, why=f"{self.kind.singular} removed", base=self._base) as edit:
            edit.remove(self.kind.name, [key])
        self.clear()
        self.watch.refresh()
        self.say(f"removed by commit {edit.commit}", "done")


def _texts(key: tuple[Any, ...]) -> list[str]:
    return ["" if v is None else str(v) for v in key]


def _own(names: tuple[str, ...], key: tuple[Any, ...]) -> tuple[Any, ...]:
    return tuple("" if v is None else v for n, v in zip(names, key, strict=True) if n != "site")


def form(kind: str, reg: Register | None = None) -> FormScreen:
    """Show a form for one kind of record ("cables", "snags" ...): add one, change one, remove one."""
    return FormScreen(reg, kind)
