"""The commands one begins with: demo, open, plugins."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from importlib.util import find_spec
from pathlib import Path

import click

from fibrebook.cli.printed import Col, needs_attention, open_register, say_json, text_table, with_register
from fibrebook.demo import make_demo
from fibrebook.errors import FibrebookError, place_in_words
from fibrebook.resources import shipped

DEMO_WHICH = ("Harbour", "HO-HL/1/3")


@click.command()
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
    click.echo(f"\nAll of it in a browser: fibrebook -r {folder} open")


@click.command("open")
@click.option("--port", type=int, default=8888, show_default=True, help="Port on this machine.")
@click.option("--no-browser", is_flag=True, help="Do not open a browser.")
@click.option("--notebooks", is_flag=True, help="JupyterLab on a copy of the notebooks instead.")
@click.option("--pages", is_flag=True, help="Each notebook as a page without code instead.")
@click.option(
    "--folder", default="fibrebook-notebooks", show_default=True, help="Where your copy of the notebooks goes."
)
@click.option("--copy-only", is_flag=True, help="Only copy the notebooks.")
@with_register
def open_page(
    where: str | None,
    as_json: bool,
    port: int,
    no_browser: bool,
    notebooks: bool,
    pages: bool,
    folder: str,
    copy_only: bool,
) -> None:
    """Open the front page of the register in a browser: find anything, see what asks for attention, every screen.

    Only this machine can reach it. Ctrl+C ends it, without a question; so does closing the terminal. No server and
    no kernel stays behind.
    """
    reg = open_register(where)
    copies = notebooks or pages or copy_only
    told = copy_notebooks(Path(folder)) if copies else {}
    if as_json:
        say_json({"register": str(reg.where), **({"folder": folder, **told} if copies else {})})
    elif copies:
        for name in told["kept"]:
            click.echo(f"{name}: yours differs from the shipped one and was kept")
        click.echo(f"notebooks in {folder}")
    if copy_only:
        return
    place = str(reg.where)
    environment = {
        **os.environ,
        "FIBREBOOK_REGISTER": place if "://" in place else str(Path(place).resolve()),
        "FIBREBOOK_CALLED_FROM": str(Path.cwd()),
    }
    from fibrebook.cli.serving_pages import serving

    quiet = ["--no-browser"] if no_browser else []
    if notebooks:
        raise click.exceptions.Exit(serving.serve(serving.LAB, _jupyterlab(folder, port) + quiet, environment))
    with tempfile.TemporaryDirectory(prefix="fibrebook-") as own:
        shown = folder if pages else str(front_notebook(Path(own)))
        raise click.exceptions.Exit(serving.serve(serving.PAGES, _voila(shown, port) + quiet, environment))


def front_notebook(folder: Path) -> Path:
    """Write the notebook of one cell that the server shows as the front page; its name is the page's title."""
    cell: dict[str, object] = {
        "cell_type": "code", "execution_count": None, "id": "home", "metadata": {}, "outputs": [],
        "source": "from fibrebook.screens.front_door.served import page\n\npage()",
    }  # fmt: skip
    kernel = {"name": "python3", "display_name": "Python 3", "language": "python"}
    path = folder / "fibrebook.ipynb"
    notebook = {"cells": [cell], "metadata": {"kernelspec": kernel}, "nbformat": 4, "nbformat_minor": 5}
    path.write_text(json.dumps(notebook), encoding="utf-8")
    return path


def _jupyterlab(folder: str, port: int) -> list[str]:
    if find_spec("jupyterlab") is None:
        raise FibrebookError("the notebooks need JupyterLab: pip install 'fibrebook[notebooks]'")
    words = ["--ip=127.0.0.1", f"--port={port}", f"--ServerApp.root_dir={folder}"]
    return [*words, "--allow-root"] if hasattr(os, "getuid") and os.getuid() == 0 else words


def _voila(shown: str, port: int) -> list[str]:
    if find_spec("voila") is None:
        raise FibrebookError("the screens need Voila: pip install 'fibrebook[notebooks]'")
    from fibrebook.cli.serving_pages.pages_server import IDLE_S

    culled = [f"--MappingKernelManager.cull_idle_timeout={IDLE_S}", "--MappingKernelManager.cull_interval=30"]
    return ["--Voila.ip=127.0.0.1", f"--port={port}", "--Voila.auto_token=True", *culled, shown]


def copy_notebooks(folder: Path) -> dict[str, list[str]]:
    """Copy the shipped notebooks into a folder; one that differs there is kept as it is."""
    with place_in_words(f"the notebooks cannot be copied to {folder}"):
        return _copied(folder)


def _copied(folder: Path) -> dict[str, list[str]]:
    folder.mkdir(parents=True, exist_ok=True)
    copied, kept = [], []
    top = shipped("notebooks")
    for source in sorted([*top.glob("*.ipynb"), *top.glob("lessons/*.ipynb")]):
        name = source.relative_to(top).as_posix()
        target = folder / name
        if target.exists() and target.read_bytes() != source.read_bytes():
            kept.append(name)
        else:
            target.parent.mkdir(exist_ok=True)
            shutil.copyfile(source, target)
            copied.append(name)
    return {"copied": copied, "kept": kept}


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of text.")
def plugins(as_json: bool) -> None:
    """List the parts at the plugin door, our own included, and what of them is not well.

    Exit code 3 where a plugin is not well; what is wrong with it is said.
    """
    from fibrebook.plugins import ask_all, faults, installed

    ask_all()
    wrong: dict[str, list[str]] = {}
    for fault in faults():
        wrong.setdefault(fault.plugin, []).append(fault.why)
    found = installed()
    found += [(name, "not loaded") for name in wrong if name not in dict(found)]
    if as_json:
        say_json([{"name": name, "from": source, "not_well": wrong.get(name, [])} for name, source in found])
    else:
        click.echo("\n".join(f"{name}  ({source})" for name, source in found))
    if wrong:
        needs_attention()


@click.command("check-plugin")
@click.argument("name")
@click.option("--seed", type=int, default=0, show_default=True, help="Which random rows.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of text.")
def check_plugin(name: str, seed: int, as_json: bool) -> None:
    """Try the installed plugin NAME on a register of random rows, in a folder that is gone afterwards.

    It is loaded, its declarations looked at, its rows committed, undone, taken away and brought back; the register
    is used without it and with another version of it. Exit code 3 where a step does not hold.
    """
    from fibrebook.plugin_check.steps import try_plugin

    steps = try_plugin(name, seed)
    if as_json:
        say_json([{"step": s.name, "holds": s.held, "found": s.found} for s in steps])
    else:
        columns = [
            Col("step", [s.name for s in steps]),
            Col("holds", ["yes" if s.held else "NO" for s in steps]),
            Col("found", [s.found for s in steps]),
        ]
        click.echo(text_table(columns))
    if not all(s.held for s in steps):
        needs_attention()
