"""The commands that write sheets: a site on a phone, the next visit, and any sheet by its name."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fibrebook.cli.printed import NO_PERSONAL, open_register, say, say_json, site_of, with_register
from fibrebook.errors import FibrebookError, InputError, NotFoundError, PluginError

if TYPE_CHECKING:
    from fibrebook.plugins import PrintedSheet
    from fibrebook.register import Register
    from fibrebook.sheets.paper.typesetting import PaperLook

PAPER = click.option("--paper", type=click.Choice(["A4", "Letter"]), default="A4", help="The paper of a PDF.")
WORDS = click.option("--words", metavar="FILE", help="A table of texts in another language, to stand beside ours.")
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


@click.command("hand-over", short_help="Write what the customer gets, as one PDF.")
@click.argument("site")
@click.option("--out", "path", required=True, metavar="FILE.pdf", help="The file to write.")
@click.option("--since", metavar="WHEN", help="With a scope: what was done after this commit or day.")
@click.option("--until", metavar="WHEN", help="With a scope: what was done up to this commit or day.")
@click.option("--premises", metavar="NAME", help="Of a shared site, only what stands on these premises.")
@NO_PERSONAL
@click.option("--warranty", metavar="FILE.txt", help="The firm's warranty, a text in UTF-8.")
@click.option("--calibrations", metavar="FILE.csv", help="Columns instrument and calibrated_on.")
@PAPER
@WORDS
@click.option("--tagged", is_flag=True, help="Tag the PDF for screen readers; it gets far larger.")
@FORCE
@with_register
def hand_over(
    where: str | None, as_json: bool, site: str, path: str, since: str | None, until: str | None, premises: str | None,
    no_personal: bool, warranty: str | None, calibrations: str | None, paper: str, words: str | None, tagged: bool,
    force: bool,
) -> None:  # fmt: skip
    """Write the hand-over pack of SITE: schematic, cores, trays, panels, tests, photos, snags, cautions."""
    from fibrebook.sheets.hand_over.pack import Asked, pack_of
    from fibrebook.sheets.written import free_place

    reg = open_register(where)
    label = str(site_of(reg, site))
    free_place(path, force)
    asked = Asked(since, until, premises, not no_personal, warranty, calibrations)
    _write(reg, label, pack_of(reg, label, asked, look_of(paper, words, tagged)), path, force, as_json)


@click.command("sheet", short_help="Write any sheet by its name, a plugin's too.")
@click.argument("name", required=False)
@click.argument("site", required=False)
@click.argument("path", metavar="FILE", required=False)
@click.option("--of", multiple=True, metavar="LABEL", help="What it is to tell of; may be given again. Default all.")
@PAPER
@WORDS
@click.option("--blank-words", metavar="FILE", help="Write the table of texts to fill in for --words, and no sheet.")
@FORCE
@with_register
def sheet(
    where: str | None, as_json: bool, name: str | None, site: str | None, path: str | None, of: tuple[str, ...],
    paper: str, words: str | None, blank_words: str | None, force: bool,
) -> None:  # fmt: skip
    """Write the sheet NAME of SITE as FILE: one of ours, or one that a plugin adds. Without a name, list them."""
    from fibrebook.plugins import gathered_sheets

    if blank_words is not None:
        _blank_words(blank_words, force, as_json)
        return
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
    _write(reg, label, _content(found[name], reg, label, of, paper, words), path, force, as_json)


def _blank_words(path: str, force: bool, as_json: bool) -> None:
    from fibrebook.sheets.paper.wording import TEXTS
    from fibrebook.sheets.written import write_sheet

    file = write_sheet(TEXTS.read_bytes(), path, force)
    say(as_json, {"file": str(file)}, f"{file}: fill its second column in, and give it with --words")


def look_of(paper: str, words: str | None, tagged: bool = False) -> PaperLook:
    """Return how a PDF is to look."""
    from fibrebook.sheets.paper.typesetting import PaperLook
    from fibrebook.sheets.paper.wording import Wording, read_wording

    return PaperLook(paper, Wording() if words is None else read_wording(words), tagged)


def _content(
    declared: PrintedSheet, reg: Register, site: str, of: Sequence[str], paper: str, words: str | None
) -> str | bytes:
    """Return a sheet's text or bytes; one that breaks, or gives neither, is named."""
    more: dict[str, Any] = {}
    if "of" in declared.takes:
        more["of"] = of
    elif of:
        raise InputError(f"the sheet {declared.name!r} is of a whole site: leave --of out")
    if "look" in declared.takes:
        more["look"] = look_of(paper, words)
    try:
        text = declared.function(reg, site, **more)
        if not isinstance(text, str | bytes):
            raise TypeError(f"it gives {type(text).__name__}, and no text or PDF")
        return text
    except FibrebookError:
        raise
    except Exception as error:  # whatever a stranger's function may raise
        raise PluginError(f"the sheet {declared.name!r} broke: {type(error).__name__}: {error}") from error


def _write(reg: Register, site: str, text: str | bytes, path: str, force: bool, as_json: bool) -> None:
    from fibrebook.sheets.written import write_sheet

    file = write_sheet(text, Path(path), force)
    if as_json:
        say_json(
            {
                "file": str(file),
                "site": site,
                "commit": reg.commit,
                "bytes": len(text.encode() if isinstance(text, str) else text),
            }
        )
    else:
        click.echo(f"{file}: {site} as of commit {reg.commit}")
