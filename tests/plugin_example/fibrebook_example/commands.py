"""A command of our own."""

from __future__ import annotations

import click

from fibrebook.cli.printed import open_register, say, with_register


@click.command()
@with_register
def sealed_ducts(where: str | None, as_json: bool) -> None:
    """List the ducts that are sealed at both ends."""
    ducts = open_register(where).table("ducts")
    found = ducts.loc[ducts["sealed"].fillna(False), "duct"].tolist()
    say(as_json, found, "\n".join(found) or "none is sealed")
