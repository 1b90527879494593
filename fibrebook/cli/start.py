"""The commands one begins with: demo, open, plugins."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import click

from fibrebook.cli.common import open_register, say_json, with_register
from fibrebook.demo import make_demo
from fibrebook.errors import FibrebookError
from fibrebook.resources import shipped

DEMO_WHICH = ("Harbour", "HO-HL/1/3")


@click.command(short_help="Make the demo register and print the three answers.")
@click.argument("folder")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of text.")
@click.pass_context
def demo(ctx: click.Context, folder: str, as_json: bool) -> None:
    """Make the demo register of an invented firm in FOLDER, and print the three answers."""
    reports = make_demo(folder)
    if as_json:
        say_json({"register": folder, "brought_in": [r.to_dict()["counts"] | {"file": r.source} for r in reports]})
        return
    from fibrebook.cli import which as which_
    from fibrebook.cli.answers import headroom, spare

    click.echo(f"The demo register is in {folder}, brought in from {len(reports)} workbooks.\n")
    click.echo("1. Which core goes to which port, and what is at the far end?")
    click.echo(f"   fibrebook -r {folder} which {' '.join(DEMO_WHICH)}\n")
    reg = open_register(folder)
    click.echo(which_.as_text(which_.look_up(reg, DEMO_WHICH[0], DEMO_WHICH[1:])))
    click.echo(f"\n2. Which sites have no spare cores left?\n   fibrebook -r {folder} spare\n")
    ctx.invoke(spare, register=folder)
    click.echo(f"\n3. Will the light get through?\n   fibrebook -r {folder} headroom --site Mill\n")
    ctx.invoke(headroom, register=folder, site="Mill")
    click.echo(f"\nThe notebooks: fibrebook -r {folder} open")


@click.command("open", short_help="Start JupyterLab on a copy of the notebooks.")
@click.option(
    "--folder", default="fibrebook-notebooks", show_default=True, help="Where your copy of the notebooks goes."
)
@click.option("--port", type=int, default=8888, show_default=True, help="Port on this machine.")
@click.option("--no-browser", is_flag=True, help="Do not open a browser.")
@click.option("--copy-only", is_flag=True, help="Only copy the notebooks.")
@click.option("--pages", is_flag=True, help="Show the notebooks as pages without code (needs Voila).")
@with_register
def open_notebooks(
    where: str | None, as_json: bool, folder: str, port: int, no_browser: bool, copy_only: bool, pages: bool
) -> None:
    """Start JupyterLab on a copy of the notebooks, with the register chosen. Only this machine can reach it."""
    reg = open_register(where)
    told = copy_notebooks(Path(folder))
    if as_json:
        say_json({"folder": folder, "register": str(reg.where), **told})
    else:
        for name in told["kept"]:
            click.echo(f"{name}: yours differs from the shipped one and was kept")
        click.echo(f"notebooks in {folder}")
    if copy_only:
        return
    place = str(reg.where)
    environment = {**os.environ, "FIBREBOOK_REGISTER": place if "://" in place else str(Path(place).resolve())}
    words = _voila(folder, port) if pages else _jupyterlab(folder, port)
    words += ["--no-browser"] if no_browser else []
    raise click.exceptions.Exit(subprocess.run(words, env=environment, check=False).returncode)


def _jupyterlab(folder: str, port: int) -> list[str]:
    if find_spec("jupyterlab") is None:
        raise FibrebookError("the notebooks need JupyterLab: pip install 'fibrebook[notebooks]'")
    words = [sys.executable, "-m", "jupyterlab", "--ip=127.0.0.1", f"--port={port}", f"--ServerApp.root_dir={folder}"]
    return [*words, "--allow-root"] if hasattr(os, "getuid") and os.getuid() == 0 else words


def _voila(folder: str, port: int) -> list[str]:
    if find_spec("voila") is None:
        raise FibrebookError("the pages need Voila: pip install 'fibrebook[pages]'")
    return [sys.executable, "-m", "voila", "--Voila.ip=127.0.0.1", f"--port={port}", "--Voila.auto_token=True", folder]


def copy_notebooks(folder: Path) -> dict[str, list[str]]:
    """Copy the shipped notebooks into a folder; one that differs there is kept as it is."""
    folder.mkdir(parents=True, exist_ok=True)
    copied, kept = [], []
    for source in sorted(shipped("notebooks").glob("*.ipynb")):
        target = folder / source.name
        if target.exists() and target.read_bytes() != source.read_bytes():
            kept.append(source.name)
        else:
            shutil.copyfile(source, target)
            copied.append(source.name)
    return {"copied": copied, "kept": kept}


@click.command(short_help="List what is at the plugin door.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of text.")
def plugins(as_json: bool) -> None:
    """List the parts at the plugin door, our own included."""
    from fibrebook.plugins import installed

    found = installed()
    if as_json:
        say_json([{"name": name, "from": source} for name, source in found])
    else:
        click.echo("\n".join(f"{name}  ({source})" for name, source in found))
