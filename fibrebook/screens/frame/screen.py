"""What every screen stands on: which register, the frame of a screen, words to the user, the choice of site."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ipywidgets as w

from fibrebook.errors import FibrebookError, NotFoundError
from fibrebook.plugins import in_words
from fibrebook.register import Register
from fibrebook.register import open as open_register
from fibrebook.screens.frame.watch import Watch, watch
from fibrebook.screens.widgets.controls import button, classed, html, row, section
from fibrebook.screens.widgets.page_side import PageSide
from fibrebook.screens.widgets.picker import Picker
from fibrebook.screens.widgets.swatches import swatch, swatch_parts
from fibrebook.screens.widgets.table import Table, heading, plain_text

if TYPE_CHECKING:
    import pandas as pd

CSS = (Path(__file__).parents[1] / "widgets" / "screen.css").read_text(encoding="utf-8")
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


class Screen(w.VBox):
    """A screen: title, a line of caution where one belongs, a message in words, then its parts.

    Give the parts to `body`; call `say` to tell the user something and `guard` around what may go wrong.

    Attributes
    ----------
    moved : called with site and thing when the screen shows another one; whoever shows the screen may set it
    """

    site: Any = None  # the screen's SitePicker, where it has one
    moved: Callable[[str, tuple[Any, ...]], Any] = staticmethod(lambda site, thing: None)

    def __init__(self, reg: Register | None, title: str, caution: str = "", name: str = "") -> None:
        self.reg = reg if reg is not None else which_register()
        self.watch: Watch = watch(self.reg)
        self._title = title or "front page"
        self._message = html("", "fb-said")
        self._beside: list[w.HTML] = []
        self._follows = False  # whether `moved` is told of the site chosen
        line = f"<div class='fb-caution'><b>Caution:</b> {escape(caution)}</div>" if caution else ""
        self._head = html(f"<style>{CSS}</style><h2 class='fb-title'>{escape(title)}</h2>{line}")
        self._body = w.VBox([])
        self._trouble = html("", "fb-trouble")
        self.page = PageSide(self.watch.start, self.page_heard, self.page_leaves)
        super().__init__([self.page, self._head, self._trouble, self._message, self._body])
        self._troubled("")
        self.watch.in_trouble(self._troubled)
        classed(self, "fb-screen", *([f"fb-{name}"] if name else []))
        self._message.layout.display = "none"

    def __repr__(self) -> str:
        """Say what it is, where no screen can be shown."""
        return f"the screen {self._title}: to be seen where Jupyter runs, or by `fibrebook open`"

    @property
    def body(self) -> Sequence[w.Widget]:
        """The screen's parts, in order."""
        found: Sequence[w.Widget] = self._body.children
        return found

    @body.setter
    def body(self, parts: Iterable[w.Widget]) -> None:
        self._body.children = list(parts)
        if isinstance(self.site, SitePicker) and not self._follows:
            self._follows = True
            self.site.observe(lambda c: self.moved(c["new"], ()), "value")

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

    def guard(self, act: Callable[[], Any], gone: Callable[[], Any] | None = None) -> Any:
        """Do something; a fault of the user's, a disk's or a network's is told in words instead of raised.

        gone : called first where it could not be done: takes away what is shown and belongs to something else
        """
        try:
            return act()
        except (FibrebookError, OSError) as error:
            if gone is not None:
                gone()
            self.say(self.watch.away() or words_of(error), "wrong")
            return None
        finally:
            self._troubled(self.watch.trouble)  # what was just asked may have met a plugin that is not well

    def turn_to(self, site: str, thing: tuple[Any, ...] = ()) -> None:
        """Show a site, and a thing there as `trace` takes it; "" and () leave what is shown as it is."""
        if site and isinstance(self.site, SitePicker):
            self.site.value = site

    def page_heard(self) -> None:
        """The page that shows the screen was heard of, as it is every second."""

    def page_leaves(self) -> None:
        """The page that shows the screen is about to go."""

    def _troubled(self, words: str) -> None:
        """Tell that the register cannot be reached ("" = it can), which plugins are left out, and what is doubted."""
        told = [f"{words} What is shown is as it was read last."] if words else []
        told += [plugins] if (plugins := in_words()) else []
        told += self.reg.doubts
        self._trouble.value = "".join(
            f"<div class='fb-message fb-wrong' role='alert'>{escape(line)}</div>" for line in told
        )
        self._trouble.layout.display = None if told else "none"


def words_of(error: Exception) -> str:
    """Return an error as people read it: what is wrong, and each single fault on a line of its own."""
    return f"the register cannot be read: {error.strerror or error}" if isinstance(error, OSError) else str(error)


class SitePicker(Picker):
    """Choose a site by typing two letters of its label, name or customer; follows the register."""

    def __init__(self, reg: Register, label: str = "Site", **more: Any) -> None:
        self._reg = reg
        super().__init__(label, placeholder="type two letters", **more)
        self.add_class("fb-site")
        self._sites_at(reg.commit)
        watch(reg).subscribe(self._sites_at)

    def _sites_at(self, commit: int) -> None:
        from fibrebook.words.labels import natural

        rows = self._reg.tables(names=["sites"])["sites"].select(["site", "name", "customer"]).to_pylist()
        rows.sort(key=lambda r: natural(r["site"]))
        self.offer((r["site"], r["site"], _hint(r)) for r in rows)


def _hint(site: dict[str, Any]) -> str:
    told = [site[n] for n in ("name", "customer") if site[n] and site[n] != site["site"]]
    return ", ".join(told)


def table_html(frame: pd.DataFrame, caption: str = "", render: dict[str, Callable[[Any], str]] | None = None) -> str:
    """Return a small table as HTML, every text escaped; `render` gives HTML of one column's values (see `swatch`)."""
    from fibrebook.screens.widgets.table import _is_number

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
    return f"<div class='fb-scroll' tabindex='0'>{table}</div>"


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
