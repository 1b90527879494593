"""The contract of a section: a state, functions of it and of what is seen, and widgets that show it.

A section's meaning is plain: what is typed is a state, an event makes another state of it, and rows, blocks and drafts
are told from it without a widget. Its widgets are made once and shown from the state. What the widgets say while they
are being shown is an echo and no event: `Shown` mutes it, here and nowhere else.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, ClassVar, Generic, Protocol, TypeVar

import ipywidgets as w

from fibrebook.errors import FibrebookError

S = TypeVar("S")  # a section's state: plain, never changed in place
Seen = TypeVar("Seen")  # what it may look at: the site as it would be, who and when
Rows = Mapping[str, Sequence[dict[str, Any]]]


@dataclass(frozen=True)
class Event:
    """What a person did: to which control, and what stands there now."""

    of: str
    value: Any


@dataclass(frozen=True)
class Made(Generic[S]):
    """What pressing "Add" makes of a state: rows under a source and title, words, and the state that is left.

    Attributes
    ----------
    said : told where there is anything to tell; refused : why nothing is put, where the state shows what is wrong
    """

    state: S
    said: str = ""
    source: str = ""
    title: str = ""
    put: Rows = field(default_factory=dict)
    refused: FibrebookError | None = None


@dataclass(frozen=True)
class Standing:
    """What stands among the rows to be saved without any "Add": it takes the place of what stood under its source."""

    source: str
    title: str
    put: Rows


class Host(Protocol):
    """What the screen around does for its sections."""

    def keep(self, source: str, title: str, put: Any) -> None:
        """Take rows into what will be saved."""

    def waits(self, source: str, words: str) -> None:
        """Note what of a section cannot be saved yet; "" = nothing."""

    def typed(self) -> None:
        """Something was typed."""

    def renew(self) -> None:
        """Let the other sections take notice of the records."""

    def say(self, text: str, how: str = "told") -> None:
        """Show a message."""

    def guard(self, act: Callable[[], Any]) -> Any:
        """Do something; a fault of the user's is told in words."""

    def needs_site(self, act: Callable[[], Any]) -> Callable[[], Any]:
        """Return the act, which is refused in words while no site is chosen."""


class Section(ABC, Generic[S, Seen]):
    """One part of a screen. Every member is there; only `build` and `show` know widgets, all else is pure."""

    title: ClassVar[str]
    name: ClassVar[str]

    @abstractmethod
    def begin(self) -> S:
        """Return the state in which nothing is typed."""

    @abstractmethod
    def after(self, state: S, event: Event, seen: Seen) -> S:
        """Return the state that an event makes."""

    def follow(self, state: S, seen: Seen) -> S:
        """Return what holds of a state where the records below it are others."""
        return state

    def made(self, state: S, seen: Seen, of: str = "") -> Made[S]:
        """Return what "Add" makes, where there are several the one named `of`.

        Raises InputError, in words, where that is nothing that can be saved.
        """
        return Made(state, "there is nothing to add here: what is typed is taken as it stands")

    def standing(self, state: S) -> Standing | None:
        """Return what stands as it is typed; the same object again where an event left it alone."""
        return None

    def head_changed(self, state: S, seen: Seen) -> S:
        """Return the state after who or when has become another."""
        return state

    def blocks_saving(self, state: S) -> tuple[str, ...]:
        """Return why the whole cannot be saved as long as this is typed."""
        return ()

    @abstractmethod
    def begun(self, state: S) -> bool:
        """Tell whether something is typed that would be lost."""

    def take_out(self, state: S, source: str) -> S:
        """Return the state without what it holds of rows that are taken out again."""
        return state

    def forget(self, state: S) -> S:
        """Return the state after a save or at another site."""
        return state

    @abstractmethod
    def to_json(self, state: S) -> dict[str, Any]:
        """Return a state as a draft keeps it."""

    @abstractmethod
    def from_json(self, kept: Mapping[str, Any]) -> S:
        """Return a state as it was kept. Raises TypeError, ValueError or LookupError where it is not one."""

    @abstractmethod
    def build(self, page: Shown[S, Seen]) -> Sequence[w.Widget]:
        """Make the widgets, once; what is done to them is told to `page`."""

    @abstractmethod
    def show(self, state: S, seen: Seen) -> None:
        """Let the widgets show a state."""


class Shown(w.VBox, Generic[S, Seen]):
    """A section on its screen: holds the state, has it shown, and tells the screen around what came of an event.

    Attributes
    ----------
    section, state : the section, and what is typed in it; seen : gives what it may look at
    """

    def __init__(self, section: Section[S, Seen], host: Host, seen: Callable[[], Seen]) -> None:
        self.section, self._host, self.seen = section, host, seen
        self.title, self.name = section.title, section.name
        self.state = section.begin()
        self._muted = False
        super().__init__([])
        self.children = list(section.build(self))
        self.add_class(f"fb-section-{section.name}")

    def watch(self, control: Any, of: str, *traits: str, typed: bool = True) -> None:
        """Have what is done to a control told as an event; several traits in one, for they may change together.

        typed : whether it is something typed, or only chosen to be looked at
        """
        names = traits or ("value",)

        def heard(_: Any) -> None:
            found = tuple(getattr(control, n) for n in names)
            self.tell(Event(of, found if traits else found[0]), typed)

        control.observe(heard, list(names))

    def tell(self, event: Event, typed: bool = True) -> None:
        """Take an event in, by which something was typed or only looked at; an echo of what is being shown is none."""
        if not self._muted:
            self._take(self.section.after(self.state, event, self.seen()))
            if typed:
                self._host.typed()

    def _take(self, state: S) -> None:
        stood, stands = self.section.standing(self.state), self.section.standing(state)
        if stands is not None and stands is not stood:
            self._host.keep(stands.source, stands.title, stands.put)
        self._turn(state)

    def guard(self, act: Callable[[], Any]) -> Any:
        """Do something; a fault of the user's is told in words."""
        return self._host.guard(act)

    def say(self, text: str, how: str = "told") -> None:
        """Show a message."""
        self._host.say(text, how)

    def add(self, of: str = "") -> None:
        """Put what is typed into what will be saved; `of`: which "Add" was pressed, where there are several."""

        def act() -> None:
            made = self.section.made(self.state, self.seen(), of)
            if made.put:
                self._host.keep(made.source, made.title, made.put)
            self._turn(made.state)
            if made.refused is not None:
                raise made.refused
            if made.said:
                self._host.say(made.said)
            if made.put:
                self._host.renew()

        self._host.guard(self._host.needs_site(act))

    def _turn(self, state: S) -> None:
        self.state = state
        was, self._muted = self._muted, True
        try:
            self.section.show(state, self.seen())
        finally:
            self._muted = was
        self._host.waits(self.section.name, "; ".join(self.section.blocks_saving(state)))

    # --- what the screen asks of each of its sections ----------------------------------------------------------------
    def refresh(self) -> None:
        """Take the site's records as they are now."""
        self._take(self.section.follow(self.state, self.seen()))

    def begun(self) -> bool:
        """Tell whether something is typed that would be lost."""
        return self.section.begun(self.state)

    def head_changed(self) -> None:
        """Who or when is another: rows that stand say it."""
        self._take(self.section.head_changed(self.state, self.seen()))

    def take_out(self, source: str) -> None:
        """Some rows were taken out of what will be saved."""
        self._turn(self.section.take_out(self.state, source))

    def forget(self) -> None:
        """Begin afresh, after a save or at another site."""
        self._turn(self.section.forget(self.state))

    def kept(self) -> dict[str, Any]:
        """Return what is typed, for a draft."""
        return self.section.to_json(self.state)

    def restore(self, kept: Mapping[str, Any]) -> None:
        """Show again what a draft kept, over the records as they are now."""
        self._take(self.section.follow(self.section.from_json(kept), self.seen()))
