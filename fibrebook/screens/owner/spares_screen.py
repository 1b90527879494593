"""The owner's page: which sites have nothing spare, when others run out, what is spare between buildings."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Any

import ipywidgets as w

from fibrebook.analyses.paths.trace import trace
from fibrebook.analyses.spare.routes import spare_routes
from fibrebook.analyses.spare.spare import spare
from fibrebook.drawings import path_picture, spare_bars
from fibrebook.screens.frame.in_view import InView
from fibrebook.screens.frame.screen import Screen, Table, button, html, row, section, swatch_parts
from fibrebook.screens.owner import spares_model as model
from fibrebook.screens.widgets.pictures import picture_html, picture_view
from fibrebook.screens.widgets.row_picker import picking_table

if TYPE_CHECKING:
    from fibrebook.register import Register

UNBROKEN = ".fb-sites td:nth-child(4), .fb-sites td:nth-child(6) { white-space: nowrap; }"
BARS = 10  # a screenful; all of them stand in the table


def spares(reg: Register | None = None) -> Spares:
    """Show the owner's page for a register (default: the one of `which_register`)."""
    return Spares(reg)


class Spares(Screen):
    """The screen: sites, then the site chosen, then the cable chosen, then the core chosen."""

    def __init__(self, reg: Register | None = None) -> None:
        super().__init__(reg, "Spares", name="spares")
        self.site, self.cable, self.seen = "", "", 0
        self._picture = html("", "fb-bars")
        # what stands there is never drawn anew, only what it shows changes: a click meant for a row finds it
        self._lead = html("", "fb-lead")
        self._table: Table | None = None
        self._sites, self._cables, self._cores = w.VBox([self._lead, self._picture]), w.VBox([]), w.VBox([])
        self._core = w.VBox([])
        self._to_cables, self._to_cores, self._to_core = InView(), InView(), InView()
        self.numbers = _field("Cores, as 9 to 12, 15", "fb-reserve-cores")
        self.purpose = _field("Reserved for (blank: free them again)", "fb-reserve-for")
        self.by = _field("Your initials", "fb-reserve-by")
        save = button("Reserve these cores", self.reserve, "fb-main", "fb-reserve")
        # one form for all cables: what is being typed outlives another's commit
        self._form = section("Reserve cores", row(self.numbers, self.purpose, self.by, save), self.said_here())
        self.body = [
            *(self._sites, self._to_cables, self._cables, self._to_cores, self._cores, self._form),
            *(self._to_core, self._core),
        ]
        self._form.layout.display = "none"
        self._newer(self.reg.commit)
        self.watch.subscribe(self._newer)

    def turn_to(self, site: str, thing: tuple[Any, ...] = ()) -> None:
        """Show a site's routes and cables; of ("cable", label) its cores, of ("core", cable, core) its path too."""
        if site and site != self.site:
            self.choose_site(site)
        if thing[:1] in (("cable",), ("core",)) and thing[1] != self.cable:
            self.choose_cable(str(thing[1]))
        if thing[:1] == ("core",):
            self.choose_core(int(thing[2]))

    def _newer(self, commit: int) -> None:
        """Show everything as it is now; what was chosen stays chosen."""
        self.guard(lambda: self._as_now(commit))

    def _as_now(self, commit: int) -> None:
        self.frame = model.overview(self.reg)
        self.seen = commit
        none = self.frame.loc[self.frame["spare"] == 0, "site"].tolist()
        few = self.frame.loc[self.frame["spare"].between(1, 2), "site"].tolist()
        told = [
            f"No spare core: {', '.join(none)}." if none else "",
            f"One or two left: {', '.join(few)}." if few else "",
        ]
        fewest = f", the {BARS} sites with the fewest" if len(self.frame) > BARS else ""
        bars = spare_bars(self.frame.head(BARS), f"Cores by state, fewest spare first{fewest}")
        self._picture.value = picture_html(bars)
        if self._table is None:
            self._table = picking_table(self.frame, "Choose a site for its routes and cables", self._site_picked)
            self._table.add_class("fb-sites")
            self._sites.children = [self._lead, self._picture, self._table]
        else:
            self._table.show(self.frame)
            sites = self.frame["site"].tolist()
            self._table.picked = sites.index(self.site) if self.site in sites else -1
        words = " ".join(filter(None, told)) or "Every site has three spare cores or more."
        self._lead.value = f"<style>{UNBROKEN}</style><p><b>{escape(words)}</b></p>"
        if self.site and self.site in set(self.frame["site"]):
            self._again()
        elif self.site:
            self._no_site()

    def _site_picked(self, i: int) -> None:
        self.choose_site(self.frame["site"].iloc[i])
        self._to_cables.call()

    def _cable_picked(self, cable: str) -> None:
        self.choose_cable(cable)
        self._to_cores.call()

    def _core_picked(self, core: int) -> None:
        self.choose_core(core)
        self._to_core.call()

    def _again(self) -> None:
        """Show the site and cable chosen as they are now."""
        self.guard(self._show_site, self._no_site)
        if self.cable and self.cable in set(self.cables["cable"]):
            self.guard(self._show_cable, self._no_cable)
        elif self.cable:
            self.choose_site(self.site)

    def choose_site(self, site: str) -> None:
        """Show a site's routes and cables."""
        self._no_site()
        self.say("")
        self.site, self.cable = site, ""
        self.guard(self._show_site, self._no_site)
        self.moved(site, ())

    def _no_site(self) -> None:
        """Show nothing of the site that was chosen before."""
        self._cables.children = []
        self._no_cable()

    def _no_cable(self) -> None:
        """Show nothing of the cable that was chosen before, and let nothing of it be reserved."""
        self._cores.children = self._core.children = []
        self._form.layout.display = "none"
        self.cable = ""

    def _show_site(self) -> None:
        self.cables = (
            spare(self.reg, by="cable", site=self.site).sort_values("spare", kind="stable").reset_index(drop=True)
        )
        routes = spare_routes(self.reg, self.site)
        shown = self.cables.drop(columns="site")
        table = picking_table(
            shown, "Choose a cable for its cores", lambda i: self._cable_picked(shown["cable"].iloc[i])
        )
        table.add_class("fb-cables")
        parts: list[w.Widget] = []
        if len(routes):
            told = "now: strands ready; patching: with cords inside rooms; splicing: with new splices and pigtails"
            frame = routes.rename(columns={"here": "from", "there": "to", "binding": "runs_out_first"}).drop(
                columns="site"
            )
            parts += [
                html(f"<p>{told}. The fewest first.</p>"),
                _classed(picking_table(frame, "From building to building"), "fb-routes"),
            ]
        self._cables.children = [section(f"{self.site}: routes and cables", *parts, table)]

    def choose_cable(self, cable: str) -> None:
        """Show a cable's cores, and let some be reserved."""
        self._no_cable()
        self.cable = cable
        self.guard(self._show_cable, self._no_cable)
        self.moved(self.site, ("cable", cable))

    def _show_cable(self) -> None:
        self.cores = model.cable_cores(self.reg, self.site, self.cable)
        drawn = {c: lambda v: swatch_parts(v if isinstance(v, str) else None) for c in ("tube_colour", "core_colour")}
        frame = self.cores
        table = picking_table(
            frame, "Choose a core for its path", lambda i: self._core_picked(int(frame["core"].iloc[i])), drawn
        )
        table.add_class("fb-cores")
        self._cores.children = [section(f"Cores of {self.cable}", table)]
        self._form.layout.display = None

    def choose_core(self, core: int) -> None:
        """Show a core's path from end to end."""

        def show() -> None:
            path = trace(self.reg, self.site, ("core", self.cable, core))
            picture = path_picture(path, f"{self.site}: core {core} of {self.cable}")
            self._core.children = [section(f"Core {core} of {self.cable}", picture_view(picture, "fb-path"))]

        self._core.children = []
        self.guard(show)

    def reserve(self) -> None:
        """Reserve the cores typed, in one commit."""

        def save() -> None:
            cores = model.core_numbers(self.numbers.value)
            number = model.reserve(self.reg, self.site, self.cable, cores, self.purpose.value, self.by.value, self.seen)
            self.numbers.value = self.purpose.value = ""
            self.watch.refresh()
            self.say(
                f"commit {number}: {len(cores)} core(s) of {self.cable}" if number else "nothing to change", "done"
            )

        self.guard(save)


def _field(label: str, name: str) -> w.Text:
    made = w.Text(
        description=label, style={"description_width": "initial"}, layout={"width": "auto"}, continuous_update=False
    )
    made.add_class(name)
    return made


def _classed(widget: Any, name: str) -> Any:
    widget.add_class(name)
    return widget
