"""The commands that somebody at a site asks: find, about, on, goes-dark, no-light; and what somebody did in a month."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import click

from fibrebook.cli.printed import (
    CAUTION,
    Col,
    frame_rows,
    open_register,
    rows_table,
    say_json,
    site_of,
    text_table,
    with_register,
)

THING = click.argument("thing", nargs=-1, required=True)


@click.command("find")
@click.argument("words", nargs=-1, required=True)
@click.option("-s", "--site", metavar="SITE", help="Look at this site only.")
@click.option("--most", type=click.IntRange(1), default=20, show_default=True, help="How many to list.")
@with_register
def find_command(where: str | None, as_json: bool, words: Sequence[str], site: str | None, most: int) -> None:
    """Find anything by part of its label, by what is said of it, or a core by colour and number (orange 7)."""
    from fibrebook.snapshot.find_in_firm import FirmFinder, find

    reg = open_register(where)
    typed, label = " ".join(words), site_of(reg, site)
    rows = frame_rows(find(reg, typed, label, most))
    if as_json:
        say_json(rows)
        return
    told = FirmFinder(reg).find(typed, most=1).words if label is None else ""
    if told or not rows:
        click.echo(click.wrap_text(told or f"Nothing at {label} matches “{typed}”.", 80) + ("\n" if rows else ""))
    if rows:
        click.echo(_table(rows, {"site": "site", "kind": "kind", "label": "label", "found_in": "found in"}))


@click.command("about")
@click.argument("site")
@with_register
def about(where: str | None, as_json: bool, site: str) -> None:
    """Tell a site in one look: whom to call, how to get in, cables, what is open, the last visit."""
    from fibrebook.analyses.visits.about_site import about_site

    reg = open_register(where)
    rows = frame_rows(about_site(reg, str(site_of(reg, site))))
    if as_json:
        say_json(rows)
        return
    last = ""
    for row in rows:  # the same word is not said again in the next line
        row["heading"], last = ("" if row["about"] == last else row["about"]), row["about"]
        row["text"] = ": ".join(filter(None, (row["name"], row["told"])))
    click.echo(text_table([Col("", [r["heading"] for r in rows]), Col(rows[0]["site"], [r["text"] for r in rows])]))


@click.command("on")
@click.argument("site")
@THING
@with_register
def on(where: str | None, as_json: bool, site: str, thing: Sequence[str]) -> None:
    """List what is on a switch, panel, closure, tray, cable, cord or channel, and where each of it leads.

    THING: its label; where that may mean several things, the kind before it: `panel P1`, `tray P3 2`, `cable C1`.
    """
    from fibrebook.analyses.visits.what_is_on import what_is_on

    reg = open_register(where)
    rows = frame_rows(what_is_on(reg, str(site_of(reg, site)), _said(thing)))
    if as_json:
        say_json(rows)
    elif not rows:
        click.echo("nothing is on it")
    else:
        names = {"kind": "kind", "name": "name", "colour": "colour", "state": "state", "one_way": "one way",
                 "other_way": "the other way", "channel": "channel"}  # fmt: skip
        for row in rows:  # what sort of thing it is shows by itself there
            ways = {
                c: row[c].removeprefix("interface ").removeprefix("port ") for c in ("one_way", "other_way") if row[c]
            }
            row |= ways
        click.echo(_table(rows, {c: h for c, h in names.items() if any(r[c] for r in rows)}))


@click.command("goes-dark")
@click.argument("site")
@THING
@with_register
def goes_dark(where: str | None, as_json: bool, site: str, thing: Sequence[str]) -> None:
    """List the channels that stop if a thing is unplugged, cut or opened.

    THING: a cable, panel, closure, tray, port, cord, core or equipment, as for `on`.
    """
    from fibrebook.analyses.paths.goes_dark import goes_dark as dark

    reg = open_register(where)
    rows = frame_rows(dark(reg, str(site_of(reg, site)), _said(thing)))
    if as_json:
        say_json(rows)
    elif not rows:
        click.echo("nothing goes dark by the records; be sure with a meter before you cut")
    else:
        click.echo(_table(rows, {c: c for c in ("channel", "purpose", "application", "a", "b", "strands")}))


@click.command("no-light")
@click.argument("site")
@THING
@with_register
def no_light(where: str | None, as_json: bool, site: str, thing: Sequence[str]) -> None:
    """Say what to check, and what first, where a channel, port, interface or core has no light."""
    from fibrebook.analyses.visits.why_no_light import why_no_light

    reg = open_register(where)
    rows = frame_rows(why_no_light(reg, str(site_of(reg, site)), _said(thing)))
    if as_json:
        say_json(rows)
        return
    columns = [
        Col("", [str(r["order"]) for r in rows], right=True),
        Col("where", [r["where"] for r in rows]),
        Col("check, and why", [f"{r['check']}\n({r['why']})" for r in rows]),
    ]
    click.echo(f"{text_table(columns)}\n\n{CAUTION}")


@click.command("month")
@click.argument("initials")
@click.argument("month", required=False, metavar="[YYYY-MM]")
@with_register
def month_command(where: str | None, as_json: bool, initials: str, month: str | None) -> None:
    """Tell what somebody recorded in a month, commit by commit; without a month, that of their newest commit."""
    from fibrebook.analyses.visits.month_of import month_of

    rows = frame_rows(month_of(open_register(where), initials, month))
    if as_json:
        say_json(rows)
    elif rows:
        dated = [{**r, "day": f"{r['day']:%Y-%m-%d}"} for r in rows]
        click.echo(rows_table(dated, ("day", "sites", "commit", "work", "why")))
    else:
        click.echo(f"nothing was saved by {initials} in {month}")


def _said(words: Sequence[str]) -> str | tuple[str, ...]:
    """A thing as it was written: one word as it stands, several as a kind and its labels."""
    return words[0] if len(words) == 1 else tuple(words)


def _table(rows: Iterable[dict[str, Any]], headings: dict[str, str]) -> str:
    rows = list(rows)
    columns = [
        Col(heading, ["" if r[name] is None else str(r[name]) for r in rows], right=isinstance(rows[0][name], int))
        for name, heading in headings.items()
    ]
    return text_table(columns, gap=1)
