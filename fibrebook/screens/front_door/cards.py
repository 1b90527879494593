"""The parts of the front page as HTML: plain lists of links, escaped."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from pathlib import Path
from typing import Any

from fibrebook.screens.front_door.addresses import Address
from fibrebook.screens.front_door.attention import AttentionLine
from fibrebook.screens.front_door.rooms import rooms

STYLE = f"<style>{Path(__file__).with_name('front_door.css').read_text(encoding='utf-8')}</style>"
FEW = 5  # of a line; the rest is told by its number


def link(address: Address, text: str, name: str = "", current: bool = False) -> str:
    """Return a link within the page."""
    css = f' class="{name}"' if name else ""
    here = ' aria-current="page"' if current else ""
    return f'<a href="{escape(address.link, quote=True)}"{css}{here}>{escape(text)}</a>'


def name_of_firm(name: str) -> str:
    """Return the register's name, which leads to the front page."""
    return link(Address(), name or "Register")


def links(at: Address) -> str:
    """Return the way to every screen, at the site where one is."""
    pages = [(Address(), "Front page"), *((Address(r.name, at.site), r.title) for r in rooms().values())]
    items = "".join(f"<li>{link(a, text, current=a.screen == at.screen)}</li>" for a, text in pages)
    return f'<nav aria-label="Screens"><ul class="fb-home-nav">{items}</ul></nav>'


def what_screens_are_for() -> str:
    """Return every screen with what it is for."""
    items = "".join(f"<li>{link(Address(r.name), r.title)}<span>{escape(r.help)}</span></li>" for r in rooms().values())
    return f"<section><h2>Screens</h2><ul class='fb-home-cards'>{items}</ul></section>"


def sites_lately(rows: Sequence[dict[str, Any]], total: int) -> str:
    """Return the sites lately used, each with what one goes there for."""
    if not rows:
        return ""
    items = []
    for r in rows:
        about = ", ".join(dict.fromkeys(str(r[c]) for c in ("name", "customer") if r[c] and r[c] != r["site"]))
        site = str(r["site"])
        ways = " ".join(
            link(Address(name, site), text)
            for name, text in (("record-visit", "Record"), ("site-picture", "Picture"), ("spares", "Spares"))
        )
        items.append(
            f"<li>{link(Address('return-visit', site), site, 'fb-big')}<div class='fb-home-ways'>{ways}</div>"
            f"<div class='fb-quiet'>{escape(about)}</div></li>"
        )
    more = (
        f"<p class='fb-quiet'>{total} sites in all: type a few letters of one above.</p>" if total > len(rows) else ""
    )
    return f"<section><h2>Sites lately used</h2><ul>{''.join(items)}</ul>{more}</section>"


def looking() -> str:
    """Return what stands there until it is known what asks for attention."""
    return "<section><h2>Asks for attention</h2><p role='status'>Looking through the register…</p></section>"


def attention(lines: Sequence[AttentionLine]) -> str:
    """Return what asks for attention, one line each with the first few of it as links."""
    told = "".join(_line(line) for line in lines)
    return f"<section><h2>Asks for attention</h2>{told or '<p>Nothing.</p>'}</section>"


def _line(line: AttentionLine) -> str:
    if line.trouble:
        return f"<h3>{escape(line.title)}</h3><p>{escape(line.trouble)}</p>"
    head = f"<h3><span class='fb-count'>{len(line.rows)}</span> {escape(line.title)}</h3>"
    by_site: dict[str, list[tuple[str, str, Address]]] = {}
    for row in line.rows:
        by_site.setdefault(row[0], []).append(row)
    shown = list(by_site.values())[:FEW]
    items = "".join(f"<li>{_place(rows)}</li>" for rows in shown)
    left = sum(len(rows) for rows in list(by_site.values())[FEW:])
    rest = f"<details><summary>and {left} more</summary><ul>{_rest(list(by_site.values())[FEW:])}</ul></details>"
    return f"{head}<ul>{items}</ul>{rest if left else ''}"


def _rest(groups: Iterable[list[tuple[str, str, Address]]]) -> str:
    return "".join(f"<li>{_place(rows)}</li>" for rows in groups)


def _place(rows: list[tuple[str, str, Address]]) -> str:
    site, what, address = rows[0]
    more = f", and {len(rows) - 1} more here" if len(rows) > 1 else ""
    return f"{link(address, site)} <span class='fb-quiet'>{escape(what)}{more}</span>"


def ways_to_begin() -> str:
    """Return what an empty register offers to begin with."""
    ways = (
        (link(Address("bring-in"), "Bring in a list", "fb-big"), "A workbook of ours, or an old list as it is."),
        (link(Address("sites"), "Type a site", "fb-big"), "Its label and name first; a visit records what is there."),
        (
            "<b class='fb-big'>Look at the demo first</b>",
            "In a terminal: <code>fibrebook demo demo-register</code>, then "
            "<code>fibrebook -r demo-register open</code>.",
        ),
    )
    items = "".join(f"<li>{how}<span>{about}</span></li>" for how, about in ways)
    return f"<section class='fb-begin'><h2>This register is empty. Three ways to begin</h2><ol>{items}</ol></section>"
