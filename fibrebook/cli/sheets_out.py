"""The commands that write sheets: a site on a phone, the next visit, and any sheet by its name."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from fibrebook.cli.printed import open_register, say, say_json, site_of, with_register
from fibrebook.errors import FibrebookError, NotFoundError, PluginError

if TYPE_CHECKING:
    from fibrebook.plugins import PrintedSheet
    from fibrebook.register import Register

FORCE = click.option("--force", is_flag=True, help="Write over FILE if it is there.")


@click.command("site-page", short_help="Write one file that tells a site on a phone.")
@click.argument("site")
@click.argument("path", metavar="FILE")
@click.option("--contacts", is_flag=True, help="Name whom to ask for; left out otherwise.")
@FORCE
@with_register
def site_page(where: str | None, as_json: bool, site: str, path: str, contacts: bool, force: bool) -> None:
    """Write one HTML file that tells SITE: cores, panels and trays, what goes dark, snags. It fetches nothing."""
    from fibrebook.sheets import site_page as page

    reg = open_register(where)
    label = str(site_of(reg, site))
    _write(reg, label, page(reg, label, contacts), path, force, as_json)


@click.command("next-visit", short_help="Write what to know, take and do at the next visit.")
@click.argument("site")
@click.argument("path", metavar="FILE")
@FORCE
@with_register
def next_visit(where: str | None, as_json: bool, site: str, path: str, force: bool) -> None:
    """Write one small page for the next visit to SITE: whom to ask for, hazards, the van, what is open."""
    from fibrebook.sheets import next_visit as page

    reg = open_register(where)
    label = str(site_of(reg, site))
    _write(reg, label, page(reg, label), path, force, as_json)


@click.command("sheet", short_help="Write any sheet by its name, a plugin's too.")
@click.argument("name", required=False)
@click.argument("site", required=False)
@click.argument("path", metavar="FILE", required=False)
@FORCE
@with_register
def sheet(where: str | None, as_json: bool, name: str | None, site: str | None, path: str | None, force: bool) -> None:
    """Write the sheet NAME of SITE as FILE: one of ours, or one that a plugin adds. Without a name, list them."""
    from fibrebook.plugins import gathered_sheets

    found = gathered_sheets()
    if name is None:
        say(as_json, sorted(found), "\n".join(f"{n:<16}{found[n].help}" for n in sorted(found)))
        return
    if name not in found:
        raise NotFoundError(f"there is no sheet {name!r}; there are: {', '.join(sorted(found))}")
    if site is None or path is None:
        raise click.UsageError("of which site, and written where? fibrebook sheet NAME SITE FILE")
    reg = open_register(where)
    label = str(site_of(reg, site))
    _write(reg, label, _text(found[name], reg, label), path, force, as_json)


def _text(declared: PrintedSheet, reg: Register, site: str) -> str:
    """Return a sheet's text; one that breaks, or gives no text, is named."""
    try:
        text = declared.function(reg, site)
        if not isinstance(text, str):
            raise TypeError(f"it gives {type(text).__name__}, and no text")
        return text
    except FibrebookError:
        raise
    except Exception as error:  # whatever a stranger's function may raise
        raise PluginError(f"the sheet {declared.name!r} broke: {type(error).__name__}: {error}") from error


def _write(reg: Register, site: str, text: str, path: str, force: bool, as_json: bool) -> None:
    from fibrebook.sheets.written import write_sheet

    file = write_sheet(text, Path(path), force)
    if as_json:
        say_json({"file": str(file), "site": site, "commit": reg.commit, "bytes": len(text.encode())})
    else:
        click.echo(f"{file}: {site} as of commit {reg.commit}")
