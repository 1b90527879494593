"""The commands that keep a register in order over the years: copies, conflicts, mending, tidying, redaction."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

import click

from fibrebook.cli.printed import (
    BY,
    NO_PERSONAL,
    WHY,
    frame_rows,
    needs_attention,
    open_register,
    rows_table,
    say,
    say_json,
    site_of,
    with_register,
)
from fibrebook.errors import ConflictError, InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

SITES = click.option("-s", "--sites", multiple=True, metavar="SITE", help="Only this site; may be given several times.")
DECISIONS = click.option(
    "--decisions", metavar="CSV", help="The list of conflicts, its last column filled with mine or theirs."
)
ALL = click.option("--all", "all_", type=click.Choice(["mine", "theirs"]), help="One decision for every conflict.")


@click.command("take-away")
@click.argument("folder")
@SITES
@NO_PERSONAL
@with_register
def take_away(where: str | None, as_json: bool, folder: str, sites: Sequence[str], no_personal: bool) -> None:
    """Copy the register, or some sites of it, to FOLDER; work there, then bring-back FOLDER."""
    reg = open_register(where)
    labels = [site_of(reg, s) for s in sites] or None
    copy = reg.take_away(folder, labels, personal=not no_personal)  # type: ignore[arg-type]
    content = {"where": str(copy.where), "commit": reg.commit, "sites": copy.sites()}
    told = f"{copy.where}: {len(copy.sites())} site(s) as at commit {reg.commit}. Back: fibrebook bring-back {folder}"
    say(as_json, content, told)


@click.command("bring-back")
@click.argument("folder")
@BY
@WHY
@ALL
@DECISIONS
@click.option("--conflicts", metavar="CSV", help="Where conflicts are written, if there are any.")
@with_register
def bring_back(
    where: str | None,
    as_json: bool,
    folder: str,
    by: str,
    why: str,
    all_: str | None,
    decisions: str | None,
    conflicts: str | None,
) -> None:
    """Merge what was changed in the copy in FOLDER, commit by commit, under its authors and times.

    "mine" is what the copy has, "theirs" what is here.
    """
    reg = open_register(where, read_only=False)
    before = reg.commit
    try:
        made = reg.bring_back(folder, by, why, _choices(all_, decisions))
    except ConflictError as error:
        _print_conflicts(error, as_json, conflicts, "bring-back again with --decisions")
        return
    if made is None:
        say(as_json, {"commits": []}, "nothing was changed in the copy")
        return
    from fibrebook.readers.bring_in.worth_a_look import between_commits

    found = between_commits(reg, before, made)
    content = {"commits": list(range(before + 1, made + 1)), "advice": [*found.advice], "tests": [*found.tests]}
    say(as_json, content, "\n  ".join([f"commits {before + 1} to {made}", *found.words]))


@click.command()
@click.argument("name")
@ALL
@DECISIONS
@click.option("--write", metavar="CSV", help="Write the conflicts there, to be decided.")
@click.option("--drop", is_flag=True, help="Throw the edit away.")
@with_register
def conflicts(
    where: str | None, as_json: bool, name: str, all_: str | None, decisions: str | None, write: str | None, drop: bool
) -> None:
    """Show side by side what the kept edit NAME (see: pending) meets; decide by --all or --decisions."""
    choices = _choices(all_, decisions)
    reg = open_register(where, read_only=choices is None and not drop)
    if drop:
        reg.pending_drop(name)
        say(as_json, {"dropped": name}, f"{name} thrown away")
        return
    if choices is not None:
        made = reg.pending_resolve(name, choices)
        say(as_json, {"commit": made}, f"commit {made}" if made else "nothing was left to change")
        return
    error = ConflictError("", (), reg.pending_conflicts(name), name)
    _print_conflicts(error, as_json, write, f"fibrebook conflicts {name} --decisions")


def _choices(all_: str | None, decisions: str | None) -> Any:
    if all_ and decisions:
        raise InputError("give either --all or --decisions")
    if decisions:
        from fibrebook.register.commits.decisions import read_decisions

        return read_decisions(decisions)
    return all_


def _print_conflicts(error: ConflictError, as_json: bool, path: str | None, remedy: str) -> None:
    """Print conflicts side by side, or write them to a file; where there are none to decide, the error stands."""
    from fibrebook.register.commits.decisions import write_conflicts

    rows = frame_rows(error.conflicts) if error.conflicts is not None else []
    if not rows and error.message:
        raise error
    if path:
        write_conflicts(error.conflicts, path)
    if as_json:
        say_json({"conflicts": rows, "written": path})
    else:
        if error.message:
            click.echo(error.message, err=True)
        names = ("table", "key", "column", "base", "theirs", "mine")
        click.echo(rows_table(rows, names))
        if path:
            click.echo(f"written to {path}: fill its last column with mine or theirs, then {remedy} {path}")
    needs_attention()


@click.command()
@click.argument("earlier")
@click.argument("later", required=False)
@click.option("-s", "--site", metavar="SITE", help="One site only.")
@with_register
def differences(where: str | None, as_json: bool, earlier: str, later: str | None, site: str | None) -> None:
    """Tell every cell that differs between EARLIER and LATER (a commit or a day; else now)."""
    rows = frame_rows(open_register(where).differences(earlier, later, site))
    names = ("table", "key", "column", "before", "after")
    say(as_json, [{n: r[n] for n in names} for r in rows], rows_table(rows, names) if rows else "no difference")


@click.command()
@click.option("--by", metavar="INITIALS", default="", help="Who does it; not needed with --dry-run.")
@click.option("--why", metavar="WORDS", default="", help="What for; not needed with --dry-run.")
@click.option("--source", metavar="WHERE", help="A backup or another copy of the register, to take files from.")
@click.option("--dry-run", is_flag=True, help="Tell what would be done and change nothing.")
@with_register
def mend(where: str | None, as_json: bool, by: str, why: str, source: str | None, dry_run: bool) -> None:
    """Put right what the history, or a backup, still holds; bring a synchronising drive's copies together.

    What it replaces is kept in the folder `replaced` until the next tidy.
    """
    from fibrebook.cli.printed import place_of
    from fibrebook.register.care_of_register import mend_place

    done = mend_place(place_of(where), by, why, source, dry_run)
    rows = [{"file": m.file, "what": m.what, "how": m.how, "ok": m.ok} for m in done]
    if dry_run and rows and not as_json:
        click.echo("a dry run: nothing was changed; this is what mend would do")
    say(as_json, rows, rows_table(rows, ("file", "what", "how")) if rows else "nothing to mend")
    if not all(m.ok for m in done):
        needs_attention()


@click.command()
@click.option("--keep-days", type=float, required=True, metavar="DAYS", help="States of these last days stay.")
@BY
@WHY
@with_register
def tidy(where: str | None, as_json: bool, keep_days: float, by: str, why: str) -> None:
    """Remove files that only older states need, and leftovers; who changed what in them stays in the history.

    Commits and changes older than a day are put together into packs, so that there are few files after many years.
    """
    done = open_register(where, read_only=False).tidy(keep_days, by, why)
    content = {"commit": done.commit, "files": done.files, "bytes": done.bytes, "given_up": done.given_up}
    content["packed"] = done.packed
    say(as_json, content, str(done))


@click.command()
@click.option("-s", "--site", metavar="SITE", help="Of this site.")
@click.option("--customer", metavar="NAME", help="Of all sites that ever had this customer; the name goes too.")
@click.option("--column", "columns", multiple=True, metavar="TABLE.COLUMN", help="Only this column, as sites.contact.")
@click.option(
    "--photos",
    type=click.Choice(["details", "all", "none"]),
    help="Of its photos: what the camera wrote into them (the default, unless columns are named), all, or none.",
)
@click.option("--yes", is_flag=True, help="Do not ask; there is no undo.")
@BY
@WHY
@with_register
def redact(
    where: str | None,
    as_json: bool,
    site: str | None,
    customer: str | None,
    columns: Sequence[str],
    photos: str | None,
    yes: bool,
    by: str,
    why: str,
) -> None:
    """Take contacts, addresses, access notes and what cameras wrote into photos out of the whole past. No undo."""
    if not yes:
        click.confirm("The values go from every state and from the history, for good. Go on?", abort=True, err=True)
    reg = open_register(where, read_only=False)
    done = reg.redact(by, why, site=site, customer=customer, columns=list(columns) or None, photos=photos)
    content = {"commit": done.commit, "sites": done.sites, "replaced": done.replaced, "removed": done.removed}
    content |= {"photos": done.photos, "left": done.left}
    say(as_json, content, str(done))


@click.command("take-as-it-is")
@with_register
def take_as_it_is(where: str | None, as_json: bool) -> None:
    """Take the register as it stands, though this machine saw a newer or another one in its place before.

    For one that was restored from a backup on purpose. What was cut off does not come back by it.
    """
    reg = open_register(where)
    reg.take_as_it_is()
    say(as_json, {"commit": reg.commit}, f"taken as it is: commit {reg.commit} is the newest that this machine saw")


@click.command("new-key")
@click.argument("path", metavar="FILE")
@click.option("--add", is_flag=True, help="Add a key to FILE, good from the next commit on; the one before ends there.")
@with_register
def new_key(where: str | None, as_json: bool, path: str, add: bool) -> None:
    """Make a key file; with FIBREBOOK_KEY naming it, commits are signed and verify checks them.

    With --register the key file says from which commit on each must bear a signature.
    """
    from fibrebook.register.store.keys import VARIABLE, add_key, make_key

    named = where or os.environ.get("FIBREBOOK_REGISTER")
    if add and not named:
        raise InputError("from which commit on? Name the register: fibrebook -r WHERE new-key --add FILE")
    first = open_register(named).commit + 1 if named else None
    made = add_key(path, first) if add and first else make_key(path, first)
    good = "" if first is None else f" It is good from commit {first} on."
    text = f"{made}: keep it outside the register, and a copy in a safe place. Use it by {VARIABLE}={made}{good}"
    say(as_json, {"file": str(made), "variable": VARIABLE, "from_commit": first}, text)
