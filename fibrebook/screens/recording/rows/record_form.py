"""A form whose records are added to the visit instead of saved: its state, and functions of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.kinds.declared import Kind
from fibrebook.records.values.to_columns import kind_of
from fibrebook.screens.frame.section import Made
from fibrebook.screens.recording.rows.readings import next_labels
from fibrebook.screens.recording.visit_draft import Day
from fibrebook.screens.records.model import FormModel, Tables, not_complete, to_fill_in


@dataclass(frozen=True)
class FormTyped:
    """What is typed into a form of one kind of record.

    Attributes
    ----------
    values : column -> what is typed, "" = blank; touched : the columns typed into
    proposed : the columns in which something was proposed; they alone are nothing that would be lost
    choices, faults : column -> what it may hold; what is wrong with what stands there, touched or not
    """

    values: Mapping[str, str]
    touched: frozenset[str] = frozenset()
    proposed: frozenset[str] = frozenset()
    choices: Mapping[str, Sequence[str]] = field(default_factory=dict)
    faults: Mapping[str, str] = field(default_factory=dict)

    @property
    def given(self) -> dict[str, str]:
        """What is not blank."""
        return {n: v for n, v in self.values.items() if v}


@dataclass(frozen=True)
class Ground:
    """What a form stands on: a site's label and its records, cores in full."""

    site: str = ""
    tables: Tables = field(default_factory=lambda: {n: k.empty() for n, k in KINDS.items()}, repr=False, compare=False)

    @staticmethod
    def of(seen: Day) -> Ground:
        """Return the site as it would be with the day's work."""
        return Ground(seen.site, seen.tables() | {"cores": seen.cores()})


@dataclass(frozen=True)
class RecordForm:
    """A form of one kind of record: what is typed there, what is wrong with it, and the row it makes. No widget here.

    Attributes
    ----------
    kind : of record, by name
    letter : of the labels that are proposed where the site has none yet; "" = none is proposed
    today : the column in which the visit's day is proposed beside a label
    """

    kind: str
    letter: str = ""
    today: str = ""

    @property
    def declared(self) -> Kind:
        """The kind of record."""
        return kind_of(self.kind)

    def begin(self) -> FormTyped:
        """Return a blank form."""
        return FormTyped(FormModel.of(self.kind, {}).values)

    def typed(self, state: FormTyped, column: str, text: str, ground: Ground) -> FormTyped:
        """Return the form with something typed into one column."""
        return self._judged(
            replace(state, values={**state.values, column: text}, touched=state.touched | {column}), ground
        )

    def follow(self, state: FormTyped, ground: Ground, on: str) -> FormTyped:
        """Return the form over other records; the next label in the site's own way of writing is proposed."""
        own = self.declared.own_key[-1]
        if self.letter and ground.site and not state.values.get(own):
            label = next_labels(ground.tables, 1, self.kind, self.letter)[0]
            fresh = {own: label} | ({self.today: on} if self.today else {})
            put = {n: v for n, v in fresh.items() if not state.values.get(n)}
            state = replace(
                state, values={**state.values, **put}, touched=frozenset(put), proposed=frozenset(fresh)
            )  # fmt: skip
        return self._judged(state, ground)

    def made(self, state: FormTyped, ground: Ground) -> Made[FormTyped]:
        """Return the row, and a blank form; or the form with all that is wrong with it."""
        kind = self.declared
        asked = self._judged(replace(state, touched=frozenset(to_fill_in(self.kind))), ground)
        if asked.faults:
            return Made(asked, refused=not_complete(kind, asked.faults))
        typed = self._model(asked, ground).row()
        label = " / ".join(str(typed[k]) for k in kind.own_key if typed.get(k))
        blank = self._judged(replace(self.begin(), proposed=state.proposed), ground)
        said = f"{kind.singular} {label} is in the visit; it is saved with everything else"
        return Made(blank, said, f"{kind.name} {label}", f"{kind.singular} {label}", {kind.name: [typed]})

    def begun(self, state: FormTyped) -> bool:
        """Tell whether something was typed; a proposed label alone is nothing."""
        return bool(state.given.keys() - state.proposed)

    def kept(self, given: Any) -> FormTyped:
        """Return the form as a draft kept it. Raises TypeError, ValueError or LookupError where it is not one."""
        kind, blank = self.declared, self.begin()
        if not isinstance(given, dict) or not all(isinstance(v, str) for v in given.values()):
            raise TypeError("no form as it was kept")
        for name, text in given.items():
            if name not in blank.values:
                raise LookupError(f"a {kind.singular} has no column {name!r}")
            if kind.by_name[name].type == "date" and text:
                dt.date.fromisoformat(text)
        names = {kind.own_key[-1], self.today} - {""} if self.letter else set()
        return replace(blank, values={**blank.values, **given}, touched=frozenset(given), proposed=frozenset(names))

    def _judged(self, state: FormTyped, ground: Ground) -> FormTyped:
        model = self._model(state, ground)
        choices = {name: tuple(model.choices(name)) for name in to_fill_in(self.kind)}
        return replace(state, choices=choices, faults=model.faults())

    def _model(self, state: FormTyped, ground: Ground) -> FormModel:
        return FormModel(self.declared, ground.tables, ground.site, dict(state.values))
