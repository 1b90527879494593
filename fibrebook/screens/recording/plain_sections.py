"""The sections that are forms: cables and enclosures with their ports, equipment, snags."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from html import escape
from typing import Any, Generic, TypeVar

import ipywidgets as w

from fibrebook.records.kinds.built_in import plugin_kinds
from fibrebook.records.kinds.columns import CONNECTORS, FIBRE_CLASSES
from fibrebook.records.kinds.declared import Kind
from fibrebook.screens.frame.screen import button, html, row
from fibrebook.screens.frame.section import Event, Made, Section, Shown
from fibrebook.screens.recording.rows.offered import labels, still_chosen
from fibrebook.screens.recording.rows.panels import port_rows
from fibrebook.screens.recording.rows.record_form import FormTyped, Ground, RecordForm
from fibrebook.screens.recording.visit_draft import Day
from fibrebook.screens.records.fields import Fields
from fibrebook.screens.records.model import faults_to_tell
from fibrebook.screens.widgets.controls import Steps, dropdown, offer, text, told_by_watch

PORTS, SETTLE = "Ports of a panel", "Settle a snag"


@dataclass(frozen=True)
class FormsTyped:
    """What is typed into the forms of a section.

    Attributes
    ----------
    on : title of the form, or other part, that is shown; forms : what is typed, by title
    ground : the records that the forms were judged against
    """

    on: str
    forms: Mapping[str, FormTyped]
    ground: Ground


F = TypeVar("F", bound=FormsTyped)


class SectionOfForms(Section[F, Day], Generic[F]):
    """Several forms of which one is shown at a time, and perhaps other parts beside them."""

    def __init__(self, forms: Mapping[str, RecordForm]) -> None:
        self.forms = forms

    # --- what is typed, and what it means ----------------------------------------------------------------------------
    @abstractmethod
    def begin(self) -> F:
        """Nothing; the first form is shown."""

    def blank(self) -> FormsTyped:
        """Return the forms, in which nothing is typed."""
        return FormsTyped(next(iter(self.forms)), {title: form.begin() for title, form in self.forms.items()}, Ground())

    def after(self, state: F, event: Event, seen: Day) -> F:
        """Something is typed into a form, another part is turned to, or a control beside the forms says something."""
        if event.of != "typed":
            return replace(state, **{event.of: event.value})
        title, column, text = event.value
        form = self.forms[title].typed(state.forms[title], column, text, state.ground)
        return replace(state, forms={**state.forms, title: form})

    def follow(self, state: F, seen: Day) -> F:
        """What a form may lead to is offered; where no label is typed, the next one is proposed."""
        ground = Ground.of(seen)
        followed = {title: form.follow(state.forms[title], ground, seen.on) for title, form in self.forms.items()}
        return replace(state, forms=followed, ground=ground)

    def made(self, state: F, seen: Day, of: str = "") -> Made[F]:
        """The record that stands in one form."""
        made = self.forms[of].made(state.forms[of], state.ground)
        left = replace(state, forms={**state.forms, of: made.state})
        return Made(left, made.said, made.source, made.title, made.put, made.refused)

    def begun(self, state: F) -> bool:
        """Tell whether something was typed and not added."""
        return any(form.begun(state.forms[title]) for title, form in self.forms.items())

    def to_json(self, state: F) -> dict[str, Any]:
        """What is typed and not added."""
        return {"on": state.on, "forms": {title: form.given for title, form in state.forms.items()}}

    def from_json(self, kept: Mapping[str, Any]) -> F:
        """Back again; forms that there are no more are left out."""
        blank, forms = self.begin(), kept.get("forms", {})
        found = {title: self.forms[title].kept(given) for title, given in forms.items() if title in self.forms}
        on = kept["on"] if kept.get("on") in self.forms else blank.on
        return replace(blank, on=on, forms={**blank.forms, **found})

    # --- as it is shown ----------------------------------------------------------------------------------------------
    def build(self, page: Shown[F, Day]) -> Sequence[w.Widget]:
        """A button for each part, and the one that is turned to."""
        self._drawn: dict[str, FormTyped] = {}
        self.fields = {title: Fields(form.kind, partial(_typed, page, title)) for title, form in self.forms.items()}
        parts = {title: self._form(page, title) for title in self.forms} | self.beside(page)
        first = next(iter(parts))
        self.steps = Steps(parts, first, self.name, lambda title: page.tell(Event("on", title), typed=False))
        return [self.steps]

    def beside(self, page: Shown[F, Day]) -> dict[str, w.Widget]:
        """Make the parts beside the forms, by title."""
        return {}

    def _form(self, page: Shown[F, Day], title: str) -> w.Widget:
        kind = self.forms[title].declared
        words = f"Add this {kind.singular} to the visit"
        add = button(words, partial(page.add, title), "fb-add", f"fb-add-{kind.name}", once=True)
        return w.VBox([html(f"<div class='fb-help'>{escape(kind.help)}</div>"), self.fields[title], add])

    def show(self, state: F, seen: Day) -> None:
        """Forms that are as they were are left alone."""
        if self.steps.on != state.on:
            self.steps.turn_to(state.on)
        for title, form in state.forms.items():
            if self._drawn.get(title) is not form:
                faults = faults_to_tell(form.faults, form.values, form.touched)
                self.fields[title].show(form.values, form.choices, faults)
                self._drawn[title] = form


def _typed(page: Shown[Any, Day], title: str, column: str, text: str) -> None:
    page.tell(Event("typed", (title, column, text)))


@dataclass(frozen=True)
class CablesTyped(FormsTyped):
    """What is typed of cables and places, and of the ports of a panel.

    Attributes
    ----------
    enclosures : those of the site to choose from; panel : the one chosen
    first, last : labels of its ports, as typed; duplex, connector, polish, fibre : what holds for all of them
    """

    enclosures: tuple[str, ...] = ()
    panel: str | None = None
    first: str = "1"
    last: str = "12"
    duplex: bool = True
    connector: str = ""
    polish: str = ""
    fibre: str = ""


class CablesSection(SectionOfForms[CablesTyped]):
    """New cables, enclosures and places; the ports of a panel in one action."""

    title, name = "Cables and enclosures", "cables"

    def __init__(self) -> None:
        kinds = {"Cable": "cables", "Enclosure": "enclosures", "Location": "locations", "Core": "cores"}
        super().__init__({title: RecordForm(kind) for title, kind in kinds.items()})

    def begin(self) -> CablesTyped:
        """Nothing; twelve duplex ports are proposed."""
        return CablesTyped(**vars(self.blank()))

    def follow(self, state: CablesTyped, seen: Day) -> CablesTyped:
        """Offer the enclosures of the site; the one chosen stays as long as there is one."""
        now = super().follow(state, seen)
        enclosures = tuple(labels(now.ground.tables["enclosures"], "enclosure"))
        return replace(now, enclosures=enclosures, panel=still_chosen(state.panel, enclosures))

    def made(self, state: CablesTyped, seen: Day, of: str = "") -> Made[CablesTyped]:
        """The record of one form; or the ports, all alike."""
        if of != PORTS:
            return super().made(state, seen, of)
        rows = port_rows(
            seen.site, state.panel or "", state.first, state.last, state.duplex, state.connector, state.polish,
            state.fibre,
        )  # fmt: skip
        title = f"ports {state.first} to {state.last} of {state.panel}"
        said = f"{title}: in the visit, saved with everything else"
        return Made(state, said, f"ports {title}", title, {"ports": rows})

    def beside(self, page: Shown[CablesTyped, Day]) -> dict[str, w.Widget]:
        """The panel, its ports, and the button that adds them."""
        self.controls: dict[str, Any] = {
            "panel": dropdown("Enclosure", told_by_watch, "ports-enclosure"),
            "first": text("From port", told_by_watch, "ports-first", "1"),
            "last": text("To port", told_by_watch, "ports-last", "12"),
            "duplex": w.Checkbox(value=True, description="duplex: positions A and B", indent=False),
            "connector": dropdown("Connector", told_by_watch, "ports-connector", ["", *CONNECTORS]),
            "polish": dropdown("Polish", told_by_watch, "ports-polish", ["", "PC", "UPC", "APC"]),
            "fibre": dropdown("Fibre class", told_by_watch, "ports-class", ["", *FIBRE_CLASSES]),
        }
        self.controls["duplex"].add_class("fb-in-ports-duplex")
        for of, control in self.controls.items():
            page.watch(control, of, typed=False)  # no draft keeps it
        add = button("Add these ports to the visit", partial(page.add, PORTS), "fb-add", "fb-add-ports", once=True)
        told = html("<div class='fb-help'>All ports of a panel or wall box in one go; all alike.</div>")
        return {PORTS: w.VBox([told, row(*self.controls.values()), add])}

    def show(self, state: CablesTyped, seen: Day) -> None:
        """The forms, and what is chosen of the ports."""
        super().show(state, seen)
        offer(self.controls["panel"], list(state.enclosures))
        for of, control in self.controls.items():
            control.value = getattr(state, of)


class PlainForms(SectionOfForms[FormsTyped]):
    """Forms, and nothing beside them."""

    def begin(self) -> FormsTyped:
        """Nothing."""
        return self.blank()


class EquipmentSection(PlainForms):
    """Equipment, its interfaces, and the channels that run over them."""

    title, name = "Equipment", "equipment"

    def __init__(self) -> None:
        kinds = {"Equipment": "equipment", "Interface": "interfaces", "Channel": "channels"}
        super().__init__({title: RecordForm(kind) for title, kind in kinds.items()})


@dataclass(frozen=True)
class SnagsTyped(FormsTyped):
    """What is typed of a new snag, the site's open ones (text, label), and the one of them that is chosen."""

    open: tuple[tuple[str, str], ...] = ()
    chosen: str | None = None


class SnagsSection(SectionOfForms[SnagsTyped]):
    """New snags, and open ones that were settled today."""

    title, name = "Snags", "snags"

    def __init__(self) -> None:
        super().__init__({"New snag": RecordForm("snags", "S", today="found_on")})

    def begin(self) -> SnagsTyped:
        """Nothing."""
        return SnagsTyped(**vars(self.blank()))

    def follow(self, state: SnagsTyped, seen: Day) -> SnagsTyped:
        """Offer the open snags; the one chosen stays as long as it is open."""
        now = super().follow(state, seen)
        snags = [s for s in now.ground.tables["snags"].to_pylist() if s["done_on"] is None]
        offered = tuple((f"{s['snag']} – {s['what'] or ''}", s["snag"]) for s in snags)
        return replace(now, open=offered, chosen=still_chosen(state.chosen, [label for _, label in offered]))

    def made(self, state: SnagsTyped, seen: Day, of: str = "") -> Made[SnagsTyped]:
        """A new snag; or the one chosen, settled on the day of the visit."""
        if of != SETTLE:
            return super().made(state, seen, of)
        label = state.chosen
        if label is None:
            return Made(state, "there is no open snag at this site")
        done = {"site": seen.site, "snag": label, "done_on": seen.on, "done_by": seen.by}
        return Made(state, "", f"settled {label}", f"snag {label} settled", {"snags": [done]})

    def beside(self, page: Shown[SnagsTyped, Day]) -> dict[str, w.Widget]:
        """The open snags, and the button that settles one."""
        self.open_snags = dropdown("Open snag", told_by_watch, "snag-open")
        page.watch(self.open_snags, "chosen", typed=False)
        return {
            SETTLE: w.VBox(
                [
                    html("<div class='fb-help'>Open snags of this site; settle those that were put right.</div>"),
                    row(self.open_snags, button("Settled on this visit", partial(page.add, SETTLE), "fb-settle")),
                ]
            )
        }

    def show(self, state: SnagsTyped, seen: Day) -> None:
        """The forms, and the open snags."""
        super().show(state, seen)
        offer(self.open_snags, list(state.open))
        self.open_snags.value = state.chosen


class MoreSection(PlainForms):
    """Records of a site that plugins add, each with its form."""

    title, name = "More records", "more"

    def __init__(self, kinds: Sequence[Kind]) -> None:
        super().__init__({kind.singular.capitalize(): RecordForm(kind.name) for kind in kinds})


def more_section() -> MoreSection | None:
    """Return the section of the records of a site that plugins add; None where there are none."""
    kinds = [k for k in plugin_kinds() if k.scope == "site"]
    return MoreSection(kinds) if kinds else None
