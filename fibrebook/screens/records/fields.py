"""The form of any kind of record as widgets, made from its declaration."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from html import escape
from typing import Any

import ipywidgets as w

from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.kinds.declared import Column
from fibrebook.screens.frame.screen import html, row
from fibrebook.screens.records.model import FormModel, Tables, faults_to_tell, not_complete, to_fill_in


class FieldControl(w.VBox):
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


class Fields(w.VBox):
    """The fields of one kind of record, with what stands in each.

    changed : called with the column and its text when something is typed
    """

    def __init__(self, kind: str, changed: Callable[[str, str], Any], leave_out: tuple[str, ...] = ()) -> None:
        self.fields = {n: FieldControl(c, changed) for n, c in to_fill_in(kind).items() if n not in leave_out}
        super().__init__([_flow(*self.fields.values())])

    def show(self, values: Mapping[str, str], choices: Mapping[str, Sequence[str]], faults: Mapping[str, str]) -> None:
        """Let values, the choices there are, and what is wrong stand in the fields."""
        for name, field in self.fields.items():
            field.fill(values[name], list(choices.get(name, ())))
            field.told(faults.get(name, ""))


class FormBox(Fields):
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
        self._touched: set[str] = set()
        self._on_change = on_change or (lambda: None)
        super().__init__(kind, self._typed, leave_out)

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
            raise not_complete(self.model.kind, faults)
        return self.model.row()

    def _typed(self, name: str, text: str) -> None:
        self.model.values[name] = text
        self._touched.add(name)
        self._show()
        self._on_change()

    def _show(self) -> dict[str, str]:
        faults = self.model.faults()
        choices = {name: self.model.choices(name) for name in self.fields}
        self.show(self.model.values, choices, faults_to_tell(faults, self.model.values, self._touched))
        return faults


def _flow(*children: Any) -> Any:
    box = row(*children)
    box.add_class("fb-fields")
    return box
