"""A section of *Record a visit*: a duct was looked into, and found closed or open."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import ipywidgets as w

from fibrebook.errors import InputError
from fibrebook.screens.frame.section import Event, Made, Section, Shown


@dataclass(frozen=True)
class DuctTyped:
    """The duct that is chosen, whether it is closed, and the ducts of the site."""

    duct: str = ""
    closed: bool = False
    ducts: tuple[str, ...] = ()


class DuctSection(Section[DuctTyped, Any]):
    """Choose a duct, say whether it is closed, add."""

    title, name = "Ducts looked into", "ducts"

    def begin(self) -> DuctTyped:
        """Nothing."""
        return DuctTyped()

    def after(self, state: DuctTyped, event: Event, seen: Any) -> DuctTyped:
        """What was done to a control stands in the state under the control's name."""
        return replace(state, **{event.of: event.value})

    def follow(self, state: DuctTyped, seen: Any) -> DuctTyped:
        """Offer the ducts of the site; the one chosen stays as long as there is one."""
        ducts = tuple(sorted(seen.tables()["ducts"]["duct"].to_pylist()))
        return replace(state, ducts=ducts, duct=state.duct if state.duct in ducts else "")

    def made(self, state: DuctTyped, seen: Any, of: str = "") -> Made[DuctTyped]:
        """What was seen of the duct, on the day of the visit."""
        if not state.duct:
            raise InputError("no duct is chosen: choose the one that was looked into")
        row = {"site": seen.site, "duct": state.duct, "sealed": state.closed, "seen_on": seen.on}
        words = f"duct {state.duct} looked into"
        return Made(DuctTyped(ducts=state.ducts), words, f"duct {state.duct}", words, {"ducts": [row]})

    def begun(self, state: DuctTyped) -> bool:
        """Tell whether something was chosen and not added."""
        return bool(state.duct or state.closed)

    def to_json(self, state: DuctTyped) -> dict[str, Any]:
        """What is chosen."""
        return {"duct": state.duct, "closed": state.closed}

    def from_json(self, kept: Mapping[str, Any]) -> DuctTyped:
        """Back again."""
        return DuctTyped(str(kept.get("duct", "")), bool(kept.get("closed")))

    def build(self, page: Shown[DuctTyped, Any]) -> Sequence[w.Widget]:
        """The choice, the tick, the button."""
        self.duct = w.Dropdown(description="Duct", options=[""])
        self.closed = w.Checkbox(description="closed at both ends", indent=False)
        page.watch(self.duct, "duct")
        page.watch(self.closed, "closed")
        add = w.Button(description="Add to the visit")
        add.on_click(lambda _: page.add())
        return [self.duct, self.closed, add]

    def show(self, state: DuctTyped, seen: Any) -> None:
        """As the state says."""
        if tuple(self.duct.options) != ("", *state.ducts):
            self.duct.options = ["", *state.ducts]
        self.duct.value, self.closed.value = state.duct, state.closed
