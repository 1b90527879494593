"""The sections that are forms: cables and enclosures with their ports, equipment, snags."""

from __future__ import annotations

import ipywidgets as w

from fibrebook.records.kinds.built_in import plugin_kinds
from fibrebook.records.kinds.columns import CONNECTORS, FIBRE_CLASSES
from fibrebook.records.kinds.declared import Kind
from fibrebook.screens.frame.screen import button, html, row
from fibrebook.screens.recording.add_form import AddForm, State, Visit, VisitSection, labels
from fibrebook.screens.recording.rows.panels import port_rows
from fibrebook.screens.widgets.controls import Steps, dropdown, offer, text


class FormsSection(VisitSection):
    """Several forms of which one is shown at a time."""

    forms: dict[str, AddForm]

    def arrange(self, forms: dict[str, AddForm], more: dict[str, w.Widget] | None = None) -> None:
        """Put the forms on the screen, the first of them in front."""
        self.forms = forms
        self.steps = Steps({**forms, **(more or {})}, next(iter(forms)), self.name)
        self.children = [self.steps]

    def refresh(self) -> None:
        """Take the site's records as they are now."""
        for form in self.forms.values():
            form.refresh()
            form.suggest()

    def begun(self) -> bool:
        """Tell whether something was typed and not added."""
        return any(f.begun() for f in self.forms.values())

    def kept(self) -> State:
        """Return what is typed and not added."""
        return {"on": self.steps.on, "forms": {n: f.box.state() for n, f in self.forms.items()}}

    def restore(self, state: State) -> None:
        """Show again what a draft kept."""
        for name, typed in state.get("forms", {}).items():
            if name in self.forms and typed:
                self.forms[name].box.restore(typed)
        if state.get("on") in self.forms:
            self.steps.turn_to(state["on"])


class CablesSection(FormsSection):
    """New cables, enclosures and places; the ports of a panel in one action."""

    title, name = "Cables and enclosures", "cables"

    def __init__(self, visit: Visit) -> None:
        super().__init__(visit)
        self.panel = dropdown("Enclosure", lambda: None, "ports-enclosure")
        self.first = text("From port", lambda: None, "ports-first", "1")
        self.last = text("To port", lambda: None, "ports-last", "12")
        self.duplex = w.Checkbox(value=True, description="duplex: positions A and B", indent=False)
        self.duplex.add_class("fb-in-ports-duplex")
        self.connector = dropdown("Connector", lambda: None, "ports-connector", ["", *CONNECTORS])
        self.polish = dropdown("Polish", lambda: None, "ports-polish", ["", "PC", "UPC", "APC"])
        self.fibre = dropdown("Fibre class", lambda: None, "ports-class", ["", *FIBRE_CLASSES])
        ports = w.VBox(
            [
                html("<div class='fb-help'>All ports of a panel or wall box in one go; all alike.</div>"),
                row(self.panel, self.first, self.last, self.duplex, self.connector, self.polish, self.fibre),
                button("Add these ports to the visit", self._add_ports, "fb-add", "fb-add-ports", once=True),
            ]
        )
        forms = {
            "Cable": AddForm(self, "cables"),
            "Enclosure": AddForm(self, "enclosures"),
            "Location": AddForm(self, "locations"),
            "Core": AddForm(self, "cores"),
        }
        self.arrange(forms, {"Ports of a panel": ports})

    def refresh(self) -> None:
        """Take the site's records as they are now."""
        super().refresh()
        offer(self.panel, labels(self.visit.tables()["enclosures"], "enclosure"))

    def _add_ports(self) -> None:
        def act() -> None:
            rows = port_rows(
                self.day.site, self.panel.value or "", self.first.value, self.last.value, self.duplex.value,
                self.connector.value, self.polish.value, self.fibre.value,
            )  # fmt: skip
            title = f"ports {self.first.value} to {self.last.value} of {self.panel.value}"
            self.visit.keep(f"ports {title}", title, {"ports": rows})
            self.visit.say(f"{title}: in the visit, saved with everything else")
            self.visit.renew()

        self.visit.guard(self.visit.needs_site(act))


class EquipmentSection(FormsSection):
    """Equipment, its interfaces, and the channels that run over them."""

    title, name = "Equipment", "equipment"

    def __init__(self, visit: Visit) -> None:
        super().__init__(visit)
        forms = {
            "Equipment": AddForm(self, "equipment"),
            "Interface": AddForm(self, "interfaces"),
            "Channel": AddForm(self, "channels"),
        }
        self.arrange(forms)


class SnagsSection(FormsSection):
    """New snags, and open ones that were settled today."""

    title, name = "Snags", "snags"

    def __init__(self, visit: Visit) -> None:
        super().__init__(visit)
        self.open_snags = dropdown("Open snag", lambda: None, "snag-open")
        settle = w.VBox(
            [
                html("<div class='fb-help'>Open snags of this site; settle those that were put right.</div>"),
                row(self.open_snags, button("Settled on this visit", self._settle, "fb-settle")),
            ]
        )
        self.arrange({"New snag": AddForm(self, "snags", "S", today="found_on")}, {"Settle a snag": settle})

    def refresh(self) -> None:
        """Take the site's records as they are now."""
        super().refresh()
        snags = [s for s in self.visit.tables()["snags"].to_pylist() if s["done_on"] is None]
        offer(self.open_snags, [(f"{s['snag']} – {s['what'] or ''}", s["snag"]) for s in snags])

    def _settle(self) -> None:
        def act() -> None:
            label = self.open_snags.value
            if label is None:
                self.visit.say("there is no open snag at this site")
                return
            done = {"site": self.day.site, "snag": label, "done_on": self.day.on, "done_by": self.day.by}
            self.visit.keep(f"settled {label}", f"snag {label} settled", {"snags": [done]})
            self.visit.renew()

        self.visit.guard(self.visit.needs_site(act))


class MoreSection(FormsSection):
    """The records of a site that plugins add, each with its form; a visit has this section only where there are any."""

    title, name = "More records", "more"

    def __init__(self, visit: Visit) -> None:
        super().__init__(visit)
        self.arrange({k.singular.capitalize(): AddForm(self, k.name) for k in self.kinds()})

    @staticmethod
    def kinds() -> list[Kind]:
        """Return the kinds that it has forms for."""
        return [k for k in plugin_kinds() if k.scope == "site"]
