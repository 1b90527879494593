"""What the sections of a visit have in common, and a form whose records are added to the visit instead of saved."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Protocol

import ipywidgets as w
import pyarrow as pa

from fibrebook.records.kinds.built_in import KINDS
from fibrebook.records.kinds.declared import Kind
from fibrebook.records.values.to_columns import kind_of
from fibrebook.screens.frame.section import Made
from fibrebook.screens.recording.rows.readings import next_labels
from fibrebook.screens.recording.visit_draft import Day
from fibrebook.screens.records.fields import not_complete, to_fill_in
from fibrebook.screens.records.model import FormModel, Tables
from fibrebook.words.labels import natural

if TYPE_CHECKING:
    from fibrebook.register import Register

State = dict[str, Any]


class Visit(Protocol):
    """What a section may ask of the visit that it is a part of."""

    reg: Register
    day: Day

    def tables(self) -> dict[str, pa.Table]:
        """Return the site's records as they would be with the day's work, cores in full."""

    def cores(self) -> pa.Table:
        """Return every core of the site."""

    def keep(self, source: str, title: str, put: Any) -> None:
        """Take a section's rows into the day."""

    def waits(self, source: str, words: str) -> None:
        """Note what of a section cannot be saved yet; "" = nothing."""

    def typed(self) -> None:
        """Something was typed."""

    def renew(self) -> None:
        """Let the other sections take notice of the day's records."""

    def say(self, text: str, how: str = "told") -> None:
        """Show a message."""

    def guard(self, act: Callable[[], Any]) -> Any:
        """Do something; a fault of the user's is told in words."""

    def needs_site(self, act: Callable[[], Any]) -> Callable[[], Any]:
        """Return the act, which is refused in words while no site is chosen."""


class VisitSection(w.VBox):
    """One part of the visit's screen. It reads the visit's tables and keeps its rows in the visit's day."""

    title = ""
    name = ""

    def __init__(self, visit: Visit) -> None:
        super().__init__([])
        self.visit = visit
        self._quiet = False
        self.add_class(f"fb-section-{self.name}")

    @property
    def day(self) -> Day:
        """The day's work so far."""
        return self.visit.day

    def refresh(self) -> None:
        """Take the site's records as they are now, with the day's work in them."""

    def head_changed(self) -> None:
        """Who or when is another."""

    def take_out(self, source: str) -> None:
        """A part was taken out of the day."""

    def forget(self) -> None:
        """Begin afresh, after a save or at another site."""

    def kept(self) -> State:
        """Return what is typed here and not in the day yet, for the draft."""
        return {}

    def restore(self, state: State) -> None:
        """Show again what a draft kept."""

    def begun(self) -> bool:
        """Tell whether something was typed here that would be lost."""
        return False

    def _calm(self, act: Callable[[], Any]) -> None:
        """Do something to the controls that is not the user's doing: what `_quiet` holds back stays still."""
        was, self._quiet = self._quiet, True
        try:
            act()
        finally:
            self._quiet = was

    def typed_late(self, subject: str) -> None:
        """Tell that something was typed into a list while another one took its place."""
        self.visit.say(late_words(subject), "wrong")


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


def late_words(subject: str) -> str:
    """Return what is said where something was typed into a list while another one took its place."""
    return (
        f"what was typed last stood in the list of {subject}, which was just being replaced; it was not taken in: "
        "type or paste it again"
    )


def labels(table: Any, column: str) -> list[str]:
    """Return the labels in a column, 2 before 10."""
    return sorted({v for v in table[column].to_pylist() if v}, key=natural)
