"""The commands that ask: which, sites, spare, headroom, advice; and any analysis by its name."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from fibrebook.cli.printed import Col, frame_rows, number, open_register, say_json, site_of, text_table, with_register
from fibrebook.errors import FibrebookError, NotFoundError, PluginError

if TYPE_CHECKING:
    from fibrebook.plugins import Analysis

SITE = click.option("-s", "--site", metavar="SITE", help="One site: its label, or an unambiguous beginning.")
SPARE_COLUMNS = (
    ("spare", "spare"),
    ("ready", "ready"),
    ("half_terminated", "half-\ntermin-\nated"),
    ("unterminated", "un-\ntermin-\nated"),
    ("reserved", "re-\nserved"),
    ("patched", "patched"),
    ("in_service", "in\nservice"),
    ("faulty", "faulty"),
    ("total", "total"),
)


@click.command()
@click.argument("site")
@click.argument("core_or_port", nargs=-1, required=True, metavar="CORE-OR-PORT")
@with_register
def which(where: str | None, as_json: bool, site: str, core_or_port: tuple[str, ...]) -> None:
    """Print the path through a core, port or interface, both ways.

    CORE-OR-PORT: cable and core as C1/7, a port as P1/12 or P1/12/A, an interface as SW1/3/Tx. Where a label may mean
    several, write `core`, `port` or `interface` before it.
    """
    from fibrebook.cli import which as which_

    reg = open_register(where)
    answer = which_.look_up(reg, str(site_of(reg, site)), core_or_port)
    if as_json:
        say_json(answer)
    else:
        click.echo(which_.as_text(answer))


@click.command()
@with_register
def sites(where: str | None, as_json: bool) -> None:
    """List the sites."""
    rows = open_register(where).tables(names=("sites",))["sites"].to_pylist()
    if as_json:
        say_json(rows)
    elif rows:
        columns = [Col(c, [r[c] or "" for r in rows]) for c in ("site", "name", "customer")]
        click.echo(text_table(columns))
    else:
        click.echo("no sites yet")


@click.command()
@click.argument("here", required=False)
@click.argument("there", required=False)
@SITE
@click.option("--by", type=click.Choice(["site", "cable", "core"]), default="site", help="What to count by.")
@with_register
def spare(where: str | None, as_json: bool, here: str | None, there: str | None, site: str | None, by: str) -> None:
    """Tell what is spare: by site (those with none first), cable or core; or between HERE and THERE of one site.

    HERE and THERE are enclosures or locations; with --by core, the spare strands that run through are named.
    """
    reg = open_register(where)
    label = site_of(reg, site)
    if here is None:
        _spare_counts(reg, by, label, as_json)
        return
    if there is None or label is None:
        raise click.UsageError("give HERE, THERE and --site together")
    if by == "core":
        _spare_strands(reg, label, here, there, as_json)
        return
    from fibrebook.analyses.spare.spare import spare_between

    rows = frame_rows(spare_between(reg, label, here, there))
    if as_json:
        say_json(rows)
        return
    columns = [
        Col("level", [r["level"] for r in rows]),
        Col("strands", [str(r["strands"]) for r in rows], right=True),
        Col("fit", [str(r["strands_that_fit"]) for r in rows], right=True),
        Col("what binds", [r["binding"] for r in rows]),
    ]
    click.echo(f"{label}: strands from {here} to {there}, and those that fit the free ports\n\n{text_table(columns)}")
    click.echo(
        "\n" + click.wrap_text(f"After splicing, as the panels hang, no more because of: {rows[-1]['stops']}.", 79)
    )


def _spare_strands(reg: Any, site: str, here: str, there: str, as_json: bool) -> None:
    from fibrebook.analyses.visits.spare_strands import spare_strands

    rows = frame_rows(spare_strands(reg, site, here, there))
    if as_json:
        say_json(rows)
    elif not rows:
        click.echo(
            f"{site}: no spare strand runs from {here} to {there} as it is; without --by core: what could be made"
        )
    else:
        click.echo(text_table([Col(n, [r[n] for r in rows]) for n in ("from", "to", "cores", "colours")]))


def _spare_counts(reg: Any, by: str, site: str | None, as_json: bool) -> None:
    from fibrebook.analyses.spare.spare import spare_cores, spare_counts
    from fibrebook.snapshot.snapshot import network

    net = network(reg, site)
    rows = (spare_cores(net) if by == "core" else spare_counts(net, by)).to_pylist()
    if as_json:
        say_json(rows)
        return
    if by == "core":
        words = [Col(c, [str(r[c]) for r in rows], right=c == "core") for c in ("site", "cable", "core", "state")]
        told = ["yes" if r["spare"] else r["why_not"] for r in rows]
        click.echo(text_table([*words, Col("spare?", told)]))
        return
    rows.sort(key=lambda r: (r["spare"], -r["total"]))
    keys = [Col(c, [r[c] for r in rows]) for c in (("site",) if by == "site" else ("site", "cable"))]
    counts = [Col(heading, [str(r[c]) for r in rows], right=True) for c, heading in SPARE_COLUMNS]
    click.echo(text_table([*keys, *counts], gap=1))
    none = [r["site"] for r in rows if not r["spare"] and r["total"]]
    if by == "site" and none:
        click.echo(f"\nNo spare cores left: {', '.join(none)}.")


@click.command()
@SITE
@click.option(
    "--all", "every", is_flag=True, help="Every wavelength and direction, not only the tightest of a channel."
)
@with_register
def headroom(where: str | None, as_json: bool, site: str | None, every: bool) -> None:
    """Tell every channel's loss against what binds, the tightest first."""
    import math

    import numpy as np

    from fibrebook.analyses.budgets.headroom import headroom_table
    from fibrebook.losses.budget import tightness
    from fibrebook.snapshot.snapshot import PlantSnapshot

    reg = open_register(where)
    rows = headroom_table(PlantSnapshot.of(reg, site_of(reg, site))).to_pylist()
    if as_json:
        say_json(rows)
        return
    figures = [[math.nan if r[c] is None else r[c] for r in rows] for c in ("headroom_db", "over_m")]
    rows = [rows[i] for i in np.argsort(tightness(*figures), kind="stable")]  # no figure (NaN) comes last
    if not every:
        rows = list({(r["site"], r["channel"]): r for r in reversed(rows)}.values())[::-1]
    columns = [
        Col("site", [r["site"] for r in rows]),
        Col("channel", [r["channel"] for r in rows]),
        Col("application", [r["application"] or "" for r in rows]),
        Col("nm", [number(r["wavelength_nm"], 0) for r in rows], right=True),
        Col("loss\ndB", [number(r["loss_db"]) for r in rows], right=True),
        Col("limit\ndB", [number(r["limit_db"]) for r in rows], right=True),
        Col("head-\nroom\ndB", [number(r["headroom_db"]) for r in rows], right=True),
        Col("what binds", [r["binding"] for r in rows]),
    ]
    if any(r["over_m"] is not None and r["over_m"] == r["over_m"] for r in rows):
        columns.append(Col("too\nlong\nm", [number(r["over_m"], 0) for r in rows], right=True))
    if every:
        columns.insert(3, Col("direc-\ntion", [r["direction"] for r in rows]))
    click.echo(text_table(columns, gap=1))
    tested = sum(r["tests"] is not None for r in rows)
    if tested:
        rest = "; the others are by the records alone" if tested < len(rows) else ""
        click.echo(f"\nLoss tests count in {tested} of these {len(rows)} lines{rest}.")
    for r in rows:
        if r["tests_binding"]:
            click.echo(f"{r['site']} {r['channel']}: loss test {r['tests_binding']}.")


@click.command()
@SITE
@click.option("--check", multiple=True, help="Only these checks, by their short name.")
@with_register
def advice(where: str | None, as_json: bool, site: str | None, check: tuple[str, ...]) -> None:
    """Tell everything that is worth a second look."""
    from fibrebook.analyses.advice.advice import advice_table

    reg = open_register(where)
    rows = [r for r in advice_table(reg, site_of(reg, site)).to_pylist() if not check or r["check"] in check]
    if as_json:
        say_json(rows)
        return
    if not rows:
        click.echo("nothing is worth a second look")
        return
    columns = [
        Col("site", [r["site"] for r in rows]),
        Col("check", [r["check"] for r in rows]),
        Col("record", [r["record"] for r in rows]),
        Col("what, and what to do", [f"{r['what']}\n→ {r['do']}" for r in rows]),
    ]
    click.echo(text_table(columns, gap=1))


@click.command()
@click.argument("name", required=False)
@SITE
@with_register
def ask(where: str | None, as_json: bool, name: str | None, site: str | None) -> None:
    """Run an analysis by its name: one of ours, or one that a plugin adds. Without a name, list them.

    --site is passed on to the analysis; one that answers for the whole register only refuses it.
    """
    from fibrebook.plugins import gathered_analyses

    found = gathered_analyses()
    if name is None:
        if as_json:
            say_json(sorted(found))
        else:
            click.echo("\n".join(sorted(found)))
        return
    if name not in found:
        raise NotFoundError(f"there is no analysis {name!r}; there are: {', '.join(sorted(found))}")
    reg = open_register(where)
    label = site_of(reg, site)
    answer = _function(found[name])
    if label is not None and "site" not in inspect.signature(answer).parameters:
        raise click.UsageError(f"the analysis {name!r} answers for the whole register; leave --site out")
    rows = _asked(answer, name, reg, {} if label is None else {"site": label})
    if as_json:
        say_json(rows)
    elif rows:
        click.echo(text_table([Col(n.replace("_", " "), [_shown(r[n]) for r in rows]) for n in rows[0]], gap=1))
    else:
        click.echo("nothing to tell")


def _function(found: Analysis) -> Callable[..., Any]:
    try:
        return found.function
    except Exception as error:  # a stranger's module may raise anything while it is imported
        told = f"{type(error).__name__}: {error}"
        raise PluginError(f"the analysis {found.name!r} is not to be had: {told}") from error


def _asked(answer: Callable[..., Any], name: str, reg: Any, options: dict[str, str]) -> list[dict[str, Any]]:
    """Rows of an analysis; one that breaks, or gives no table, is named."""
    try:
        return frame_rows(answer(reg, **options))
    except FibrebookError:
        raise
    except Exception as error:
        raise PluginError(f"the analysis {name!r} broke: {type(error).__name__}: {error}") from error


def _shown(value: Any) -> str:
    """A value of any analysis as text: figures to two places, nothing where it is not known."""
    if value is None:
        return ""
    return f"{value:.2f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)
