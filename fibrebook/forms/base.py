"""What every screen stands on: which register, the frame of a screen, words to the user, the choice of site."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ipywidgets as w

from fibrebook.errors import FibrebookError, NotFoundError
from fibrebook.forms.colours import swatch, swatch_parts
from fibrebook.forms.page_side import PageSide
from fibrebook.forms.picker import Picker
from fibrebook.forms.table import Table, heading, plain_text
from fibrebook.forms.watch import Watch, watch
from fibrebook.register import Register
from fibrebook.register import open as open_register

if TYPE_CHECKING:
    import pandas as pd

CSS = (Path(__file__).parent / "screen.css").read_text(encoding="utf-8")
EYES = (
    "Never look into a fibre or a port: the light is invisible and can harm the eye. "
    "Use a power meter or a detector card."
)
SMALL_TABLE = 40

__all__ = [
    "EYES", "Picker", "Screen", "SitePicker", "Table", "Watch", "button", "heading", "html", "plain_text", "row",
    "section", "swatch", "swatch_parts", "table_html", "table_view", "watch", "which_register", "words_of",
]  # fmt: skip


def which_register(where: str | os.PathLike[str] | None = None) -> Register:
    """Open the register that the screens show: `where`, else FIBREBOOK_REGISTER, else ./register.

    Raises
    ------
    NotFoundError : there is none; the message says what to do
    """
    named = where or os.environ.get("FIBREBOOK_REGISTER") or ""
    place = named or "register"
    try:
        return open_register(place)
    except NotFoundError as error:
        how = "" if named else " (the environment variable FIBREBOOK_REGISTER names another place)"
        raise NotFoundError(
            f"there is no register at {Path(place).resolve() if '://' not in str(place) else place}{how}. "
            f"Make a new one with: fibrebook new {place}"
        ) from error


def html(text: str, *classes: str) -> w.HTML:
    """Return an HTML widget of text that is escaped already."""
    return _classed(w.HTML(text), *classes)


def button(text: str, act: Callable[[], Any] | None = None, *classes: str, tip: str = "") -> w.Button:
    """Return a big button; `fb-main` among the classes makes it the screen's main one."""
    made = _classed(w.Button(description=text, tooltip=tip or text), *classes)
    if act is not None:
        made.on_click(lambda _: act())
    return made


def row(*children: w.Widget) -> w.HBox:
    """Return widgets side by side, wrapping where the page is narrow."""
    return _classed(w.HBox(list(children)), "fb-row")


def section(title: str, *children: w.Widget, caution: str = "") -> w.VBox:
    """Return a part of a screen under a heading."""
    head = [html(f"<h3 class='fb-heading'>{escape(title)}</h3>")]
    if caution:
        head.append(html(f"<div class='fb-caution'><b>Caution:</b> {escape(caution)}</div>"))
    return _classed(w.VBox([*head, *children]), "fb-section")


def _classed(widget: Any, *classes: str) -> Any:
    for name in classes:
        widget.add_class(name)
    return widget


class Screen(w.VBox):
    """A screen: title, a line of caution where one belongs, a message in words, then its parts.

    Give the parts to `body`; call `say` to tell the user something and `guard` around what may go wrong.
    """

    def __init__(self, reg: Register | None, title: str, caution: str = "", name: str = "") -> None:
        self.reg = reg if reg is not None else which_register()
        self.watch: Watch = watch(self.reg)
        self._message = html("", "fb-said")
        self._beside: list[w.HTML] = []
        line = f"<div class='fb-caution'><b>Caution:</b> {escape(caution)}</div>" if caution else ""
        self._head = html(f"<style>{CSS}</style><h2 class='fb-title'>{escape(title)}</h2>{line}")
        self._body = w.VBox([])
        super().__init__([PageSide(self.watch.start), self._head, self._message, self._body])
        _classed(self, "fb-screen", *([f"fb-{name}"] if name else []))
        self._message.layout.display = "none"

    @property
    def body(self) -> Sequence[w.Widget]:
        """The screen's parts, in order."""
        return self._body.children

    @body.setter
    def body(self, parts: Iterable[w.Widget]) -> None:
        self._body.children = list(parts)

    @property
    def said(self) -> str:
        """The message shown, as plain text."""
        return self._said if hasattr(self, "_said") else ""

    def say(self, text: str, how: str = "told") -> None:
        """Show a message; how: told, done or wrong. An empty text takes it away."""
        self._said = text
        self._message.layout.display = None if text else "none"
        lead = {"wrong": "<b>Not done:</b> ", "done": "<b>Done:</b> "}.get(how, "")
        self._message.value = (
            f"<div class='fb-message fb-{escape(how)}' role='status' aria-live='polite'>{lead}{escape(text)}</div>"
        )
        for beside in self._beside:
            beside.value = f"<div class='fb-message fb-{escape(how)}'>{lead}{escape(text)}</div>" if text else ""

    def said_here(self) -> w.HTML:
        """Return a place beside a button far down the page that shows the screen's message too."""
        made = html("", "fb-said-here")
        self._beside.append(made)
        return made

    def guard(self, act: Callable[[], Any]) -> Any:
        """Do something; a fault of the user's is told in words instead of raised."""
        try:
            return act()
        except FibrebookError as error:
            self.say(words_of(error), "wrong")
            return None


def words_of(error: FibrebookError) -> str:
    """Return an error as people read it: what is wrong, and each single fault on a line of its own."""
    return str(error)


class SitePicker(Picker):
    """Choose a site by typing two letters of its label, name or customer; follows the register."""

    def __init__(self, reg: Register, label: str = "Site", **more: Any) -> None:
        self._reg = reg
        super().__init__(label, placeholder="type two letters", **more)
        self.add_class("fb-site")
        self._sites_at(reg.commit)
        watch(reg).subscribe(self._sites_at)

    def _sites_at(self, commit: int) -> None:
        from fibrebook.records.keys import natural

        rows = self._reg.tables(names=["sites"])["sites"].select(["site", "name", "customer"]).to_pylist()
        rows.sort(key=lambda r: natural(r["site"]))
        self.offer((r["site"], r["site"], _hint(r)) for r in rows)


def _hint(site: dict[str, Any]) -> str:
    told = [site[n] for n in ("name", "customer") if site[n] and site[n] != site["site"]]
    return ", ".join(told)


def table_html(frame: pd.DataFrame, caption: str = "", render: dict[str, Callable[[Any], str]] | None = None) -> str:
    """Return a small table as HTML, every text escaped; `render` gives HTML of one column's values (see `swatch`)."""
    from fibrebook.forms.table import _is_number

    render = render or {}
    head = "".join(f"<th scope='col'>{escape(heading(n))}</th>" for n in frame.columns)
    columns = []
    for name in frame.columns:
        draw = render.get(name, lambda v: escape(plain_text(v)))
        css = " class='fb-number'" if _is_number(frame[name]) else ""
        columns.append([f"<td{css}>{draw(v)}</td>" for v in frame[name].tolist()])
    body = "".join(f"<tr>{''.join(cells)}</tr>" for cells in zip(*columns, strict=True))
    title = f"<caption>{escape(caption)}</caption>" if caption else ""
    table = f"<table class='fb-table'>{title}<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
    return f"<div class='fb-scroll'>{table}</div>"


def table_view(
    frame: pd.DataFrame, caption: str = "", on_pick: Callable[[int], Any] | None = None, render: Any = None
) -> Table:
    """Return a table widget: sorted by its headings, searched, paged; text stands in the page.

    Parameters
    ----------
    on_pick : called with the row's position in `frame` when a row is clicked or chosen with Enter
    render : column -> function of a value that gives text, or `swatch_parts`-like dicts with word and back
    """
    table = Table(frame, render, caption=caption, clickable=on_pick is not None)
    if on_pick is not None:
        table.observe(lambda _: on_pick(table.picked), "picks")
    return table
