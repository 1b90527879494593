"""Where what a command says cannot be printed, or a disk fails under it, that is told in words and never by a traceback."""

from __future__ import annotations

import errno
import importlib.metadata
import os
import subprocess
import sys
from pathlib import Path

import pytest

import fibrebook
from fibrebook import plugins
from fibrebook.cli.start import copy_notebooks
from fibrebook.drawings.svg import Picture
from fibrebook.errors import FibrebookError, PluginError
from fibrebook.register.commits.decisions import read_decisions, write_conflicts
from fibrebook.register.store.keys import make_key

FULL = Path("/dev/full")
needs_full = pytest.mark.skipif(not FULL.exists(), reason="this system has no device that is always full")


@pytest.fixture(scope="module")
def where(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A register of many sites, so that there is much to print."""
    where = tmp_path_factory.mktemp("output") / "reg"
    with fibrebook.create(where).edit(by="ab", why="x") as edit:
        edit.put("sites", [{"site": f"S{n}", "name": "n" * 60} for n in range(3000)])
    return where


def ran(where: Path, words: str, redirected: str) -> subprocess.CompletedProcess[str]:
    """Run a command in a shell with its output redirected."""
    line = f'"{sys.executable}" -m fibrebook -r "{where}" {words} {redirected}'
    done = subprocess.run(["sh", "-c", line], capture_output=True, text=True, check=False, timeout=120)
    assert "Traceback" not in done.stderr
    assert "Exception ignored" not in done.stderr
    return done


@needs_full
@pytest.mark.parametrize("words", ["sites", "sites --json", "which S1 C1/1", "no-such-command", "--help"])
def test_a_full_output_is_told_in_words(where, words):
    """Output to a full disk ends with code 1 and says so; an error of its own is told as ever."""
    done = ran(where, words, "> /dev/full")
    if words.startswith(("which", "no-such")):
        assert done.returncode in (1, 2)
        assert done.stderr
    else:
        assert done.returncode == 1
        assert "cannot be printed: No space left on device" in done.stderr


@needs_full
def test_both_outputs_full_end_quietly(where):
    """Where not even the error can be told, the exit code still tells it."""
    assert ran(where, "sites", "> /dev/full 2> /dev/full").returncode == 1
    assert ran(where, "which S1 C1/1", "> /dev/full 2> /dev/full").returncode == 1


@pytest.mark.parametrize("closed", [">&-", ">&- 2>&-"])
def test_a_closed_output_is_an_error(where, closed):
    """With its standard output closed a command cannot say what it found, and does not claim that it did."""
    done = ran(where, "sites", closed)
    assert done.returncode == 1
    assert done.stderr if closed == ">&-" else not done.stderr


@pytest.mark.parametrize("words", ["sites", "sites --json", "history"])
def test_a_reader_that_has_enough_is_no_error(where, words):
    """Whoever stops reading, as head does, gets no word of it."""
    line = f'"{sys.executable}" -m fibrebook -r "{where}" {words} | head -c 1 > /dev/null'
    done = subprocess.run(["sh", "-c", line], capture_output=True, text=True, check=False, timeout=120)
    assert done.stderr == ""


@needs_full
def test_a_commit_stands_although_it_cannot_be_told(tmp_path):
    """What was done before the output failed is done, and the message says to look before repeating it."""
    reg = fibrebook.create(tmp_path / "reg")
    fibrebook.send_out(reg, tmp_path / "book.xlsx")
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "sites.csv").write_text("site\nS\n", encoding="utf-8")
    done = ran(tmp_path / "reg", f'bring-in "{tmp_path / "in"}" --by ab --why x', "> /dev/full")
    assert done.returncode == 1
    assert "What the command did stands" in done.stderr
    assert fibrebook.open(tmp_path / "reg").sites() == ["S"]


@pytest.mark.parametrize("number", [errno.EIO, errno.EACCES, errno.EMFILE])
def test_a_failing_disk_while_plugins_are_looked_up_is_told(monkeypatch, number):
    """Where the list of installed packages cannot be read, it is said, and nothing is saved by half of the plugins."""

    def fail(**_: object) -> None:
        raise OSError(number, os.strerror(number), "/somewhere/entry_points.txt")

    monkeypatch.setattr(importlib.metadata, "entry_points", fail)
    plugins.manager.cache_clear()
    try:
        plugins.manager()
        assert os.strerror(number) in plugins.in_words()
        with pytest.raises(PluginError, match=os.strerror(number)):
            plugins.refuse_half_a_list()
    finally:
        monkeypatch.undo()
        plugins.manager.cache_clear()


def test_a_failing_disk_under_a_plugins_file_is_told(monkeypatch):
    """A file that a plugin gives and that the disk does not even name is left out, and told with the plugin."""
    monkeypatch.setattr("fibrebook.plugins.asking.gathered", lambda hook: [("firm", ["/there/layout.toml"])])

    def fail(self: Path) -> bool:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    monkeypatch.setattr(Path, "is_file", fail)
    assert plugins.gathered_files("layout_files") == []
    monkeypatch.undo()
    assert "plugin 'firm'" in plugins.in_words()
    plugins.note("firm", "layout_files")


def too_long(folder: Path) -> Path:
    """A path with a part that no file system takes."""
    return folder / ("n" * 300) / "x"


BAD_PLACES = {
    "a name too long": too_long,
    "under a file": lambda folder: Path(__file__) / "x",
    "under a device": lambda folder: Path("/dev/null/x"),
    "a NUL in it": lambda folder: Path(f"{folder}/a\x00b"),
    "a folder that is not there": lambda folder: folder / "no" / "such" / "x",
    "itself a folder": lambda folder: folder,
}
USES = {
    "open": lambda reg, path: fibrebook.open(path),
    "create": lambda reg, path: fibrebook.create(path),
    "bring in a list": lambda reg, path: fibrebook.bring_in(reg, path.with_name(path.name + ".csv"), by="a", why="x"),
    "bring in a workbook": lambda reg, path: fibrebook.bring_in(reg, f"{path}.xlsx", by="a", why="x", dry_run=True),
    "a layout": lambda reg, path: fibrebook.bring_in(reg, __file__, by="a", why="x", layout=f"{path}.toml"),
    "send out": lambda reg, path: fibrebook.send_out(reg, f"{path}.xlsx"),
    "publish": lambda reg, path: reg.publish(path),
    "take away": lambda reg, path: reg.take_away(path),
    "bring back": lambda reg, path: reg.bring_back(path, "a", "x"),
    "look at a copy": lambda reg, path: reg.bring_back_preview(path),
    "mend from": lambda reg, path: reg.mend("a", "x", source=path),
    "picture": lambda reg, path: Picture("<svg/>", "a path", 1, 1).save(path),
    "layout by hand": lambda reg, path: fibrebook.workbook.read_with_layout(__file__, path),
    "key": lambda reg, path: make_key(path),
    "decisions": lambda reg, path: read_decisions(path),
    "write conflicts": lambda reg, path: write_conflicts([], path),
    "notebooks": lambda reg, path: copy_notebooks(path),
    "events": lambda reg, path: fibrebook.read_events(path, "S", "T"),
}


@pytest.mark.filterwarnings("error::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.parametrize("place", BAD_PLACES)
@pytest.mark.parametrize("use", USES)
def test_a_place_that_cannot_be_is_told_in_words(where, tmp_path, place, use):
    """Whatever path a person types, each function answers or raises an error of ours; it never lets the system's out."""
    reg = fibrebook.open(where)
    try:
        USES[use](reg, BAD_PLACES[place](tmp_path))
    except FibrebookError as error:
        assert str(error)
    assert reg.commit == 1
