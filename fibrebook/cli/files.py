"""The commands that make, change and keep a register: new, bring-in, history, undo, verify; and that write files."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from fibrebook.cli.answers import SITE
from fibrebook.cli.printed import (
    BY,
    NO_PERSONAL,
    WHY,
    Col,
    frame_rows,
    needs_attention,
    number,
    open_register,
    rows_table,
    say,
    say_json,
    site_of,
    text_table,
    with_register,
)

if TYPE_CHECKING:
    from fibrebook.register import Register


@click.command()
@click.argument("folder")
@click.option("--name", default="", help="The firm's name for it.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of text.")
def new(folder: str, name: str, as_json: bool) -> None:
    """Make a new, empty register in FOLDER (or at s3://bucket/prefix)."""
    from fibrebook.register import create

    reg = create(folder, name=name)
    content = {"where": str(reg.where), "id": reg.id, "name": reg.name}
    say(as_json, content, f"A new register in {reg.where}. Next: fibrebook -r {folder} send-out blank.xlsx")


@click.command("bring-in")
@click.argument("paths", nargs=-1, required=True, metavar="FILE...")
@BY
@WHY
@click.option("--layout", metavar="TOML", help="How to read a firm's own list.")
@click.option("--dry-run", is_flag=True, help="Only tell what would happen.")
@with_register
def bring_in_files(
    where: str | None, as_json: bool, paths: tuple[str, ...], by: str, why: str, layout: str | None, dry_run: bool
) -> None:
    """Bring workbooks (.xlsx, .ods), .csv files or folders of them into the register, one commit each."""
    from fibrebook.workbook import bring_in

    reg = open_register(where, read_only=dry_run)
    reports = [bring_in(reg, path, by=by, why=why, dry_run=dry_run, layout=layout) for path in paths]
    say(as_json, [r.to_dict() for r in reports], "\n".join(str(r) for r in reports))
    if not all(r.ok for r in reports):
        needs_attention()


@click.command("send-out")
@click.argument("path", metavar="FILE")
@click.option("-s", "--site", metavar="SITE", help="One site only.")
@click.option("--force", is_flag=True, help="Write over an existing file.")
@NO_PERSONAL
@with_register
def send_out_file(
    where: str | None, as_json: bool, path: str, site: str | None, force: bool, no_personal: bool
) -> None:
    """Write the register, or one site of it, as a workbook to work in and bring back."""
    from fibrebook.workbook import send_out

    reg = open_register(where)
    written = send_out(reg, path, site=site_of(reg, site), force=force, personal=not no_personal)
    say(as_json, {"file": str(written), "commit": reg.commit}, f"{written}: commit {reg.commit}")


@click.command()
@click.option("-s", "--site", metavar="SITE", help="One site only.")
@click.option("--table", metavar="TABLE", help="One table only; then every changed cell is listed.")
@click.option("--last", type=int, default=20, show_default=True, help="How many commits (or cells) to show.")
@with_register
def history(where: str | None, as_json: bool, site: str | None, table: str | None, last: int) -> None:
    """Tell who changed what, when and why; the newest last."""
    reg = open_register(where)
    label = site_of(reg, site)
    if table or label:
        rows = frame_rows(reg.history(table, site=label))[-last:]
        names: tuple[str, ...] = ("commit", "time_utc", "by", "why", "table", "key", "column", "before", "after")
    else:
        rows = frame_rows(reg.log())[-last:]
        names = ("commit", "time_utc", "by", "what", "why", "tables", "changes")
    say(as_json, rows, rows_table(rows, names, gap=1) if rows else "no commits yet")


@click.command()
@click.argument("commit", type=int)
@BY
@WHY
@with_register
def undo(where: str | None, as_json: bool, commit: int, by: str, why: str) -> None:
    """Take one commit back by a new commit; refused where a later change stands in the way."""
    made = open_register(where, read_only=False).undo(commit, by=by, why=why)
    say(as_json, {"undone": commit, "commit": made}, f"commit {commit} taken back by commit {made}")


@click.command()
@with_register
def verify(where: str | None, as_json: bool) -> None:
    """Read every file again and name what is damaged; with a key file, every signature too."""
    from fibrebook.register.store.keys import VARIABLE

    reg = open_register(where)
    found = reg.verify()
    rows, unchecked = frame_rows(found), found.attrs["signatures_not_checked"]
    sound = f"sound: {reg.commit} commits, every file is what was written"
    text = rows_table(rows, ("what", "file", "table", "sites")) if rows else sound
    if unchecked:
        text += f"\nsignatures of {unchecked} commits were not checked: {VARIABLE} names no key file"
    content = {"sound": not rows, "commit": reg.commit, "problems": rows, "signatures_not_checked": unchecked}
    say(as_json, content, text)
    if rows:
        needs_attention()


@click.command()
@click.argument("folder")
@NO_PERSONAL
@with_register
def publish(where: str | None, as_json: bool, folder: str, no_personal: bool) -> None:
    """Write one plain Parquet file per table, current state, for any other program."""
    written = [str(p) for p in open_register(where).publish(folder, personal=not no_personal)]
    say(as_json, written, "\n".join(written))


@click.command()
@with_register
def pending(where: str | None, as_json: bool) -> None:
    """List edits that met a conflict and wait for a decision."""
    rows = frame_rows(open_register(where).pending())
    say(as_json, rows, rows_table(rows, list(rows[0])) if rows else "no edit is waiting")


FORCE = click.option("--force", is_flag=True, help="Write over an existing file.")


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


@click.command("invoice-lines", short_help="Count the work of a visit, or between two days.")
@SITE
@click.option("--since", metavar="WHEN", help="Commit number or day; default the beginning.")
@click.option("--until", metavar="WHEN", help="Commit number or day; default now.")
@click.option("--visit", metavar="VISIT", help="One visit at the site instead.")
@click.option("--prices", metavar="FILE", help="CSV with columns work and price: the price of one unit of a work.")
@click.option("--csv", "csv_", metavar="FILE", help="Write CSV instead of printing.")
@FORCE
@with_register
def invoice_lines(
    where: str | None, as_json: bool, site: str | None, since: str | None, until: str | None, visit: str | None,
    prices: str | None, csv_: str | None, force: bool,
) -> None:  # fmt: skip
    """Count the work that came into the register between two days, or with one visit."""
    from fibrebook.analyses.work.invoice_lines import invoice_lines as answer
    from fibrebook.readers.files.prices import read_prices
    from fibrebook.sheets.written import write_sheet

    reg = open_register(where)
    label = site_of(reg, site)
    known = read_prices(prices) if prices else None
    found = answer(reg, since, until, None if label is None else str(label), visit, known)
    if csv_:
        click.echo(f"{write_sheet(found.to_csv(index=False), csv_, force)}: {len(found)} line(s)")
    elif as_json:
        say_json(frame_rows(found))
    elif not len(found):
        click.echo("no work was recorded")
    else:
        rows = frame_rows(found)
        columns = [Col(n, [r[n] or "" for r in rows]) for n in ("site", "work")]
        columns += [
            Col("quantity", [number(r["quantity"], 0) for r in rows], right=True),
            Col("unit", [r["unit"] for r in rows]),
        ]
        if known:
            columns += [Col(n, [number(r[n], 2) for r in rows], right=True) for n in ("price", "amount")]
        click.echo(text_table(columns))


def _write(reg: Register, site: str, text: str, path: str, force: bool, as_json: bool) -> None:
    from fibrebook.sheets.written import write_sheet

    file = write_sheet(text, Path(path), force)
    if as_json:
        say_json({"file": str(file), "site": site, "commit": reg.commit, "bytes": len(text.encode())})
    else:
        click.echo(f"{file}: {site} as of commit {reg.commit}")
