"""The commands about light: what would run, what room is left, what was tested, where a fault is, whence a value."""

from __future__ import annotations

from typing import Any

import click

from fibrebook.cli.answers import SITE
from fibrebook.cli.printed import (
    CAUTION,
    Col,
    frame_rows,
    number,
    open_register,
    say_json,
    site_of,
    text_table,
    with_register,
)
from fibrebook.errors import NotFoundError


def _show(rows: list[dict[str, Any]], columns: dict[str, str], as_json: bool, none: str) -> None:
    """Print rows as JSON, or some of their columns (name: heading; a heading that ends in a unit is a number)."""
    if as_json:
        say_json(rows)
    elif not rows:
        click.echo(none)
    else:
        cells = []
        for name, heading in columns.items():
            figures = heading.split("\n")[-1] in ("dB", "m", "nm", "share")
            texts = [number(r[name], 0 if heading.endswith("m") else 2) if figures else _text(r[name]) for r in rows]
            cells.append(Col(heading, texts, right=figures))
        click.echo(text_table(cells, gap=1))


def _text(value: Any) -> str:
    if value is None:
        return ""
    return value.date().isoformat() if hasattr(value, "date") else str(value)


@click.command("would-run")
@click.argument("site")
@click.argument("start", nargs=-1, required=True)
@with_register
def would_run(where: str | None, as_json: bool, site: str, start: tuple[str, ...]) -> None:
    """Try every application on the path through START: a core C1/7, a port P1/12/A, or `channel CH1`."""
    from fibrebook.analyses.budgets.would_run import would_run as answer

    reg = open_register(where)
    label = str(site_of(reg, site))
    rows = frame_rows(answer(reg, label, start))
    columns = {
        "application": "application", "runs": "runs", "fibres": "needs\nstrands", "strands": "has",
        "headroom_db": "head-\nroom\ndB", "loss_db": "loss\ndB",
        "limit_db": "limit\ndB", "wavelength_nm": "nm", "binding": "what binds", "over_m": "too\nlong\nm",
        "attenuator_db": "atten-\nuator\ndB",
    }  # fmt: skip
    _show(rows, columns, as_json, "no application is known")


@click.command("room-for")
@SITE
@with_register
def room_for(where: str | None, as_json: bool, site: str | None) -> None:
    """Tell how many more splices, or connections, or metres each channel would bear."""
    from fibrebook.analyses.budgets.room_for import room_for as answer

    reg = open_register(where)
    rows = frame_rows(answer(reg, site_of(reg, site)))
    columns = {
        "site": "site", "channel": "channel", "headroom_db": "head-\nroom\ndB", "over_m": "too\nlong\nm",
        "splices": "splices",
        "connections": "connec-\ntions", "metres_m": "fibre\nm", "metres_binding": "what stops the fibre",
    }  # fmt: skip
    _show(rows, columns, as_json, "there are no channels")


@click.command()
@SITE
@with_register
def untested(where: str | None, as_json: bool, site: str | None) -> None:
    """List what carries light and was never accepted, and what was tested before it was last disturbed."""
    from fibrebook.analyses.tested.untested import untested as answer

    reg = open_register(where)
    rows = frame_rows(answer(reg, site_of(reg, site)))
    columns = {c: c.replace("_", "\n") for c in ("site", "channel", "cable", "cores", "reason", "tested_on")}
    _show(rows, columns, as_json, "everything that carries light was tested since it was last disturbed")


@click.command()
@SITE
@click.option(
    "--style", help="ISO/IEC 14763-3, TIA-568.3 (the newest edition) or an edition by its name; else the firm's choice."
)
@click.option("--all", "every", is_flag=True, help="Those that passed, too.")
@with_register
def acceptance(where: str | None, as_json: bool, site: str | None, style: str | None, every: bool) -> None:
    """Judge every loss test against the limit of its own stretch; those that did not pass are listed.

    Tests of other methods (OTDR, light check) that are written down as failed, and none since, are listed below.
    """
    from fibrebook.analyses.tested.acceptance import acceptance as answer
    from fibrebook.analyses.tested.acceptance import verdict_in_words
    from fibrebook.analyses.tested.failed import failed_tests

    reg = open_register(where)
    label = site_of(reg, site)
    judged = frame_rows(answer(reg, label, style))
    rows = [r for r in judged if every or r["verdict"] != "pass"]
    others = [] if as_json else [r for r in frame_rows(failed_tests(reg, label)) if r["method"] != "loss test"]
    if not as_json:
        rows = [r | {"verdict": verdict_in_words(r["verdict"], r["side"])} for r in rows]
    columns = {
        "site": "site", "test": "test", "from_at": "from", "from_port": "port", "to_at": "to", "to_port": "port",
        "wavelength_nm": "nm", "loss_db": "loss\ndB", "limit_db": "limit\ndB", "verdict": "verdict", "why": "why",
    }  # fmt: skip
    passed = "every loss test passed" if not others else f"{len(judged)} loss tests passed"
    _show(rows, columns, as_json, passed if judged else "there are no loss tests")
    if rows and not as_json:
        click.echo(f"\njudged by {judged[0]['edition']}")
    if others:
        click.echo("\nother tests that failed, and none since:")
        columns = {
            "site": "site", "test": "test", "method": "method", "from_at": "from", "from_port": "port", "to_at": "to",
            "to_port": "port ", "cable": "cable", "core": "core", "wavelength_nm": "nm", "tested_on": "tested on",
        }  # fmt: skip
        _show(others, columns, as_json, "")


@click.command()
@SITE
@with_register
def polarity(where: str | None, as_json: bool, site: str | None) -> None:
    """Tell of every channel whether transmit reaches receive, and which element turns it over."""
    from fibrebook.analyses.paths.polarity import polarity as answer

    reg = open_register(where)
    rows = frame_rows(answer(reg, site_of(reg, site)))
    columns = {c: c.replace("_", " ") for c in ("site", "channel", "verdict", "elements", "turned_by", "do")}
    _show(rows, columns, as_json, "there are no channels")


@click.command()
@click.argument("site")
@click.argument("start")
@click.argument("metres", type=float)
@click.option("--launch", "launch_m", type=float, default=0.0, help="Metres of launch cord in the reading.")
@with_register
def locate(where: str | None, as_json: bool, site: str, start: str, metres: float, launch_m: float) -> None:
    """Name the place at METRES on an OTDR, shot from START: a port P1/12/A, or a bare core C1/7 from its end A."""
    from fibrebook.analyses.tested.locate import locate as answer

    reg = open_register(where)
    label = str(site_of(reg, site))
    rows = frame_rows(answer(reg, label, start, metres, launch_m=launch_m))
    columns = {
        "kind": "kind", "at": "at", "name": "name", "from_enclosure": "from", "along_m": "along\nm",
        "nearest_enclosure": "nearest", "nearest_m": "off it\nm", "error_m": "give or\ntake\nm", "route": "route",
    }  # fmt: skip
    _show(rows, columns, as_json, "nothing there")
    if not as_json:
        click.echo(f"\n{CAUTION}")


@click.command("splices")
@click.option("--by", type=click.Choice(["engineer", "splicer", "month", "cable"]), default="engineer")
@SITE
@with_register
def splice_quality(where: str | None, as_json: bool, by: str, site: str | None) -> None:
    """Sum up splice losses by group: how many, how good, how many over the usual limit."""
    from fibrebook.analyses.tested.splice_quality import splice_quality as answer

    reg = open_register(where)
    rows = frame_rows(answer(reg, by, site_of(reg, site)))
    columns = {
        "group": by, "basis": "basis", "splices": "splices", "mean_db": "mean\ndB", "point_95_db": "95 %\ndB",
        "most_db": "most\ndB", "over": "over\nlimit", "over_share": "over\nshare", "outside": "out of\nchart",
    }  # fmt: skip
    _show(rows, columns, as_json, "no splice has a loss recorded")


@click.command()
@click.argument("table", required=False)
@click.argument("conditions", nargs=-1, metavar="[COLUMN=VALUE]...")
@with_register
def pedigree(where: str | None, as_json: bool, table: str | None, conditions: tuple[str, ...]) -> None:
    """Tell where the values of a reference TABLE come from; without TABLE, which tables there are.

    Example: fibrebook pedigree attenuation fibre_class=OM3 wavelength_nm=850. A register's own values are told too,
    where one is given or found.
    """
    from fibrebook.cli.printed import place_of
    from fibrebook.light.catalogue.values import Values
    from fibrebook.reference import tables
    from fibrebook.snapshot.snapshot import PlantSnapshot

    if table is None:
        say_json(tables.names()) if as_json else click.echo("\n".join(tables.names()))
        return
    try:
        place: str | None = place_of(where)
    except NotFoundError:
        place = None
    own = Values.published() if place is None else PlantSnapshot.of(open_register(place)).values
    wanted = dict(_condition(table, c) for c in conditions)
    if as_json:
        say_json([r for r in tables.rows(table, values=own) if all(r.get(c) == v for c, v in wanted.items())])
    else:
        click.echo(tables.pedigree(table, values=own, **wanted))


def _condition(table: str, text: str) -> tuple[str, Any]:
    from fibrebook.reference import tables

    column, equals, value = text.partition("=")
    if not equals:
        raise click.UsageError(f"{text!r} is no condition: write COLUMN=VALUE")
    if column in tables.NUMBERS or column in tables.WHOLE_NUMBERS:
        try:
            return column, float(value)
        except ValueError:
            raise click.UsageError(f"{column} is a number, not {value!r}") from None
    return column, value
