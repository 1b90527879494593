"""Every command and piece of Python that the documents and notebooks tell people to type does what it says, as written.

What is told is taken out of the documents by `written_commands`. New text is either run here (README and LAYOUTS.md in
order, in a folder of their own, with the files that the text takes for granted), or it stands in one of the lists below
with the reason why it is proved otherwise: text that is neither fails the first test.
"""

from __future__ import annotations

import contextlib
import ctypes
import importlib
import io
import json
import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import openpyxl
import pytest
import written_commands
from written_commands import TOP, Written

import fibrebook
from fibrebook import plugins
from fibrebook.cli import main
from fibrebook.plugin_check.steps import try_plugin
from fibrebook.records import KINDS
from fibrebook.screens import record_visit
from fibrebook.screens.front_door.addresses import Address

README, LAYOUTS, DEVELOPERS = "README.md", "fibrebook/readers/layouts/LAYOUTS.md", "DEVELOPERS.md"
PLACES = {"SITE": "Mill", "CORE-OR-PORT": "M1/3", "NAME": "headroom"}  # words in capitals stand for the reader's own

INSTALLS = "installs from a package index, which a test does not reach; .ci/run does it on a clean machine"
TESTS = "runs tests, of which this is one; that its paths and marks exist is looked at below"
NOT_RUN = {
    'python -m venv .venv && .venv/bin/pip install -e ".[notebooks]" && .venv/bin/fibrebook demo demo-register': (
        INSTALLS + "; its last part is run here, on its own"
    ),
    '.venv/bin/pip install -e ".[test]" ./tests/plugin_example && .venv/bin/python -m pytest': INSTALLS,
    "apt-get install chromium": INSTALLS,
    '.venv/bin/pip install -e ".[paper]"': INSTALLS,
    "fibrebook -r demo-register hand-over Campus --out campus.pdf": "tests/test_hand_over.py runs it as it stands",
    "python -m venv .venv && . .venv/bin/activate": INSTALLS,
    'pip install -e ".[test]" ./tests/plugin_example': INSTALLS,
    "pytest": TESTS,
    'pytest -m "not browser"': TESTS,
    "pytest -n 0 tests/test_rules.py": TESTS,
    "pytest -n 0 tests/benchmarks --benchmark-only": TESTS,
    "pytest -n 0 -m long": TESTS,
    "ruff check . && ruff format --check . && mypy && lint-imports": ".ci/run runs each of them",
    "lint-imports": ".ci/run runs it",
    "fibrebook which": "names the command while it speaks of how fast it starts",
    "jupyter nbconvert --to notebook --execute --inplace --ExecutePreprocessor.record_timing=False "
    "--ExecutePreprocessor.store_widget_state=False notebooks/lessons/*.ipynb": (
        "rewrites the notebooks, which nbval runs cell by cell in this suite and compares with what is kept"
    ),
    "python -m tests.browser.screen_notebooks": (
        "takes a picture of every screen for a minute; tests/test_notebooks.py holds what it writes"
    ),
    "python -m tests.browser.screens": "takes pictures of every screen for minutes; the browser tests drive the same",
    "FIBREBOOK_PLUGINS= python tests/test_answers_kept.py": "renews what tests/test_answers_kept.py compares with",
    "fibrebook.read_events(path, site, test)": "names what the function takes; a screen's reader has no such file",
}
SERVERS = tuple(f"fibrebook -r demo-register open{how}" for how in ("", " --notebooks", " --pages"))
MAINTENANCE = (  # run in a copy of the repository
    "export FIBREBOOK_PLUGINS=",
    "python data/make_demo.py && python data/make_pictures.py && python tests/test_readme.py",
    "python -m fibrebook.records.reference_page",
    "python -m fibrebook.reference.check",
    "python -m fibrebook.reference.check --renew",
    "python data/make_demo.py",
    "python data/make_old_lists.py",
)
IN_ORDER = [w for document in (README, LAYOUTS) for w in written_commands.written(document)]
ELSEWHERE = {
    "fibrebook ask NAME",
    "reg.undeclared()",
}  # run on the demo register below, like what notebooks' text tells


def to_run(one: Written) -> bool:
    """Whether it is run in order, rather than proved otherwise."""
    return one.text not in NOT_RUN and one.text not in SERVERS


@dataclass
class Reader:
    """Somebody who types what stands there, in a folder of their own."""

    folder: Path
    done: list[str] = field(default_factory=list)
    names: dict[str, Any] = field(default_factory=dict)

    def types(self, one: Written) -> str:
        """Type one thing, with what it takes for granted at hand; return what was printed."""
        PREPARED.get(one.text, lambda folder: None)(self.folder)
        self.done.append(one.text)
        said = io.StringIO()
        with contextlib.chdir(self.folder), contextlib.redirect_stdout(said):
            if one.python:
                exec(one.text, self.names)
            else:
                code = command(one.text)
                assert code == 0, f"{one.document}: {one.text!r} ended with {code}: {said.getvalue()}"
        return said.getvalue()


def command(text: str) -> int:
    """Run a command of ours as its entry point does; return its exit code."""
    words = [PLACES.get(w, w) for w in shlex.split(text)]
    assert words[0].rpartition("/")[2] == "fibrebook", f"nothing here runs {text!r}: see this module's first lines"
    with pytest.raises(SystemExit) as ended:
        main(words[1:])
    return int(ended.value.code or 0)


# --- what the text takes for granted --------------------------------------------------------------------------------------
def fill(folder: Path) -> None:
    """Somebody fills the blank workbook: the boat shed, a cable from its office to a closure and one on to the slip."""
    book = openpyxl.load_workbook(folder / "blank.xlsx")
    places = {"Office": "P1", "Yard": "J1", "Slip": "WB1"}
    cable = {"site": "Boat shed", "core_count": 12, "fibre_class": "OS2", "length_m": 120}
    rows: dict[str, list[dict[str, Any]]] = {
        "sites": [{"site": "Boat shed"}],
        "locations": [{"site": "Boat shed", "location": n} for n in places],
        "enclosures": [{"site": "Boat shed", "enclosure": e, "location": n} for n, e in places.items()],
        "cables": [
            {**cable, "cable": "C1", "a_enclosure": "P1", "b_enclosure": "J1"},
            {**cable, "cable": "C2", "a_enclosure": "J1", "b_enclosure": "WB1"},
        ],
    }
    for table, given in rows.items():
        names = [cell.value for cell in book[table][1]]
        for row in given:
            book[table].append([row.get(n) for n in names])
    book.save(folder / "filled.xlsx")


def old_list(folder: Path) -> None:
    """A messy list and its layout."""
    for suffix, name in ((".xlsx", "old.xlsx"), (".toml", "ours.toml")):
        shutil.copyfile(TOP / "data" / "old_lists" / f"core_schedule{suffix}", folder / name)


def first_layout(folder: Path) -> None:
    """The list and the layout that LAYOUTS.md shows first."""
    page = (TOP / LAYOUTS).read_text(encoding="utf-8")
    book = openpyxl.Workbook()
    for line in page.splitlines():
        if re.match(r"\| \d \|", line):
            cells = [c.strip() or None for c in line.strip("|").split("|")[1:]]
            book.active.append([int(c) if c and c.isdigit() else c for c in cells])
    book.save(folder / "old_list.xlsx")
    layout = re.search(r"```toml\n(.*?)```", page, re.DOTALL)
    assert layout
    (folder / "old_list.toml").write_text(layout[1], encoding="utf-8")


SPARE_PAIR = [
    {"site": "Boat shed", "enclosure": "J1", "tray": 1, "slot": n, "a_cable": "C1", "a_core": n, "b_cable": "C2", "b_core": n}
    for n in (7, 8)
]  # fmt: skip
PREPARED: dict[str, Callable[[Path], None]] = {}
for _written in IN_ORDER:
    for _file, _make in (("filled.xlsx", fill), ("old.xlsx", old_list), ("old_list.xlsx", first_layout)):
        if _file in _written.text and not _written.python:
            PREPARED[_written.text] = _make


@pytest.fixture(scope="module")
def reader(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Reader, dict[str, str]]]:
    """Somebody who has typed all of README and LAYOUTS.md in order, and what each thing printed."""
    person = Reader(tmp_path_factory.mktemp("reader"))
    person.names["rows"] = SPARE_PAIR
    said = {}
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FIBREBOOK_REGISTER", str(person.folder / "demo-register"))
        for text in NOT_RUN:
            for part in text.split(" && "):
                if "bin/fibrebook" in part:
                    said[part] = person.types(Written(README, False, part))
        for one in IN_ORDER:
            if to_run(one):
                said[one.text] = person.types(one)
        yield person, said


def test_nothing_is_told_that_nothing_runs() -> None:
    """Each thing to type in a document or notebook is run by a test here, or stands in a list with its reason."""
    told = written_commands.everything()
    run = {w.text for w in IN_ORDER} | set(SERVERS) | set(MAINTENANCE) | ELSEWHERE | {w.text for w in on_the_demo()}
    run |= {w.text for w in told if w.document == DEVELOPERS and w.python}
    missing = [f"{w.document}: {w.text}" for w in told if w.text not in run and w.text not in NOT_RUN]
    assert not missing, "told to people, but no test runs it as written"
    stale = {*NOT_RUN, *SERVERS, *MAINTENANCE, *ELSEWHERE} - {w.text for w in told}
    assert not stale, "listed here, but no document tells it any more"


def test_a_new_command_in_a_document_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    """Text that nobody runs yet is found wherever it stands: in a block, in running text, in Python."""
    new = "```\nfibrebook new-thing X   # remark\n```\nsay `fibrebook other thing` or `reg.third(1)`\n```python\nfourth()\n```\n"
    monkeypatch.setattr(written_commands, "text_of", lambda document: new)
    found = [(w.python, w.text) for w in written_commands.written(README)]
    assert found == [
        (False, "fibrebook new-thing X"), (False, "fibrebook other thing"), (True, "reg.third(1)"), (True, "fourth()\n"),
    ]  # fmt: skip


def test_what_readme_and_layouts_tell_works_in_order(reader: tuple[Reader, dict[str, str]]) -> None:
    """All of it runs as written, and leaves what it promises: registers, a workbook, three commits, three answers."""
    person, said = reader
    assert len(person.done) >= 13
    assert "brought in from" in said[".venv/bin/fibrebook demo demo-register"]
    ours = fibrebook.open(person.folder / "our-register")
    assert ours.log()["why"].tolist()[:2] == ["first sites", "spliced the spare pair"]
    assert [w.startswith("old list (old.xlsx, sha256 ") for w in ours.log()["why"].tolist()[2:]] == [True]
    assert "core C1/7" in said['fibrebook -r our-register which "Boat shed" C1/7']
    found = fibrebook.cross_reference(ours, "Boat shed").set_index(["cable", "core"])
    assert found.loc[("C1", 7), "b_reaches"] == "C2/7/B"
    dry = [text for text in said if "--dry-run" in text]
    assert len(dry) == 2
    assert all("nothing wrong; this was a dry run" in said[text] for text in dry)


def test_a_dry_run_that_a_document_tells_changes_nothing(reader: tuple[Reader, dict[str, str]]) -> None:
    """Neither README's nor LAYOUTS.md's dry run has left anything in the register."""
    assert fibrebook.open(reader[0].folder / "demo-register").commit == 6


def on_the_demo() -> list[Written]:
    """What other documents and the text of notebooks tell to ask of a register."""
    told = [w for d in (DEVELOPERS, *written_commands.notebooks()) for w in written_commands.written(d)]
    return [w for w in told if w.text not in NOT_RUN and (w.text in ELSEWHERE or ".ipynb" in w.document)]


def test_what_notebooks_tell_to_try_works(reader: tuple[Reader, dict[str, str]]) -> None:
    """What the text between cells tells to try runs on the demo register and gives an answer."""
    person = Reader(reader[0].folder, names={"reg": fibrebook.open(reader[0].folder / "demo-register")})
    person.names["fibrebook"] = fibrebook
    assert len(on_the_demo()) >= 3
    for one in on_the_demo():
        if one.python:
            assert eval(one.text, person.names) is not None
        else:
            assert person.types(one)


def test_every_notebook_is_run_cell_by_cell() -> None:
    """The suite's own settings run each lesson and compare what it shows; the screens' one cell runs tests/test_notebooks.py."""
    settings = (TOP / "pyproject.toml").read_text(encoding="utf-8")
    assert re.search(r'^testpaths = \[.*"notebooks/lessons".*\]$', settings, re.MULTILINE)
    assert re.search(r"^addopts = .*--nbval ", settings, re.MULTILINE)
    assert len(written_commands.notebooks()) >= 9


def test_commands_that_run_tests_name_what_is_there() -> None:
    """Paths in the commands that run tests exist, and marks are declared."""
    settings = (TOP / "pyproject.toml").read_text(encoding="utf-8")
    for text, reason in NOT_RUN.items():
        words = shlex.split(text) if reason == TESTS else []
        for word in words:
            assert not word.startswith("tests/") or (TOP / word).exists()
        marks = [words[i + 1].removeprefix("not ") for i, word in enumerate(words) if word == "-m"]
        assert all(f'"{mark}: ' in settings for mark in marks)


def plugins_shown() -> list[str]:
    """The plugins that DEVELOPERS.md shows: a kind of record, a column of ours, and one of each."""
    shown = [w.text for w in written_commands.written(DEVELOPERS) if w.python and w.text not in ELSEWHERE]
    assert len(shown) == 3
    return shown


def test_the_plugin_of_one_of_each_does_what_is_told_of_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The chapter's lines, installed as its file: every step of check-plugin holds, and each part is met where it is told."""
    (tmp_path / "firm_plugin.py").write_text(plugins_shown()[-1], encoding="utf-8")
    about = tmp_path / "firm_plugin-1.0.dist-info"
    about.mkdir()
    (about / "METADATA").write_text("Metadata-Version: 2.1\nName: firm-plugin\nVersion: 1.0\n", encoding="utf-8")
    (about / "entry_points.txt").write_text("[fibrebook]\nfirm = firm_plugin\n", encoding="utf-8")
    assert '`firm = "firm_plugin"`' in written_commands.text_of(DEVELOPERS)
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.setenv("FIBREBOOK_PLUGINS", "firm")
    monkeypatch.setenv("FIBREBOOK_DRAFTS", str(tmp_path / "drafts"))
    plugins.manager.cache_clear()
    try:
        assert [s for s in try_plugin("firm") if not s.held] == []
        reg = fibrebook.create(tmp_path / "register")
        deep = {"site": "S1", "pit": "7", "depth_m": 2.5}
        with reg.edit(by="RK", why="a pit") as edit:
            edit.put("sites", [{"site": "S1"}])
            edit.put("pits", [{**deep, "ladder": True}])
            edit.put("cables", [{"site": "S1", "cable": "C1", "core_count": 4, "pulled_through": "7"}])
        with pytest.raises(fibrebook.RuleError, match="nothing of a ladder"), reg.edit(by="RK", why="another") as edit:
            edit.put("pits", [{**deep, "pit": "8"}])
        assert fibrebook.advice(reg).query("check == 'pit not looked at'")["record"].tolist() == ["7"]
        answer = plugins.gathered_analyses()["pits_by_site"].function(reg)
        assert answer.to_dict("records") == [{"site": "S1", "pits": 1, "deepest_m": 2.5}]
        fibrebook.send_out(reg, tmp_path / "out.xlsx")
        book = openpyxl.load_workbook(tmp_path / "out.xlsx")
        assert "pits" in book.sheetnames and "pulled_through" in [c.value for c in book["cables"][1]]
        assert reg.table("cables")["pulled_through"].tolist() == ["7"]
        visit = record_visit(reg)
        visit.site.value, visit.by.value = "S1", "RK"
        opened = next(s for s in visit.sections if s.title == "Pits opened")
        opened.section.inner.pit.value = "7"
        opened.add()
        visit.save()
        assert "saved as commit" in visit.said and reg.table("pits")["looked_at"].notna().all()
        home = fibrebook.home(reg)
        home.go(Address("pits", "S1"))
        assert home.said == "" and home.shown() == ["pits"]
    finally:
        sys.modules.pop("firm_plugin", None)
        plugins.manager.cache_clear()


def test_the_way_of_a_row_names_what_is_there() -> None:
    """Each function and module on the way of one row is where it is said to be."""
    way = written_commands.text_of(DEVELOPERS).partition("### How one row becomes an answer")[2].partition("\n### ")[0]
    named = re.findall(r"`(fibrebook(?:\.\w+)+)(?::(\w+))?`", way)
    assert len(named) > 12
    for module, name in named:
        assert not name or hasattr(importlib.import_module(module), name), f"{module}:{name}"
        importlib.import_module(module)


def test_the_wheel_brings_no_generator() -> None:
    """What is shipped beside the package is data and notebooks; and all that `shipped` is asked for is among it."""
    with (TOP / "pyproject.toml").open("rb") as file:
        brought = tomllib.load(file)["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]
    assert [p for folder in brought for p in (TOP / folder).rglob("*.py")] == []
    assert {"fibrebook/shipped/data/demo", "fibrebook/shipped/data/old_lists", "fibrebook/shipped/notebooks"} == {
        *brought.values()
    }


def test_the_example_of_a_plugin_is_taken_at_the_door() -> None:
    """The Python that DEVELOPERS.md shows is a plugin's: as a module at the door it adds its kind of record."""
    shown = plugins_shown()
    names: dict[str, Any] = {}
    exec(shown[0], names)
    exec(shown[1], names)
    plugins.manager.cache_clear()
    try:
        plugins.manager().register(
            type("Example", (), {n: staticmethod(names[n]) for n in ("record_kinds", "extra_columns")})()
        )
        assert list(KINDS["ducts"].key) == ["site", "duct"] and KINDS["cables"].names[-1] == "drum"
    finally:
        plugins.manager.cache_clear()
    assert "ducts" not in KINDS


def test_what_renews_kept_files_leaves_them_as_they_are(tmp_path: Path) -> None:
    """In a copy of the repository, the commands that write its kept files write what is there already."""
    kept = ("data", "fibrebook", "tests/test_readme.py", "README.md")
    for name in kept:
        source, target = TOP / name, tmp_path / name
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copytree(source, target) if source.is_dir() else shutil.copyfile(source, target)
    before = contents(tmp_path)
    script = "\n".join(["set -e", *MAINTENANCE[:3], MAINTENANCE[4]]).replace(
        "python ", f"{shlex.quote(sys.executable)} "
    )
    environment = {**os.environ, "PYTHONPATH": str(tmp_path), "PYTHONDONTWRITEBYTECODE": "1"}
    subprocess.run(["sh", "-c", script], cwd=tmp_path, env=environment, check=True, capture_output=True)
    after = contents(tmp_path)
    assert [name for name in before.keys() | after.keys() if before.get(name) != after.get(name)] == []


def contents(folder: Path) -> dict[str, bytes]:
    """Every file's bytes by its path."""
    files = (p for p in folder.rglob("*") if p.is_file() and "__pycache__" not in p.parts)
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in files}


@pytest.mark.skipif(os.name == "nt", reason="ends a server's whole group of processes")
@pytest.mark.parametrize("text", SERVERS)
def test_the_notebooks_open(reader: tuple[Reader, dict[str, str]], tmp_path: Path, text: str) -> None:
    """`open` starts a server of this machine's own address that answers; it is then ended."""
    words = [sys.executable, "-m", "fibrebook", *shlex.split(text)[1:]]
    environment = {**os.environ, "BROWSER": "true", "HOME": str(tmp_path), "JUPYTER_RUNTIME_DIR": str(tmp_path)}
    environment |= {"JUPYTER_CONFIG_DIR": str(tmp_path), "IPYTHONDIR": str(tmp_path)}
    log = tmp_path / "log"
    with log.open("wb") as file:
        server = subprocess.Popen(
            words, cwd=reader[0].folder, env=environment, stdout=file, stderr=file, start_new_session=True
        )
        try:
            end = time.monotonic() + 120
            while "http://127.0.0.1" not in log.read_text() and server.poll() is None and time.monotonic() < end:
                time.sleep(0.2)
            assert server.poll() is None, log.read_text()
            assert "http://127.0.0.1" in log.read_text()
        finally:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(server.pid, signal.SIGKILL)
            server.wait()


# --- without the right to write -------------------------------------------------------------------------------------------
READS = (
    "fibrebook sites",
    "fibrebook advice",
    "fibrebook history",
    "fibrebook verify",
    "fibrebook pending",
    "fibrebook untested",
    "fibrebook publish published",
    "fibrebook send-out out.xlsx",
    "fibrebook take-away away",
)
WRITES = ("new", "demo", "bring-in", "open")
WRITING_NOTEBOOKS = {
    "notebooks/lessons/bring_in.ipynb": "brings the list into the demo register in earnest",
    "notebooks/lessons/bring_back.ipynb": "brings a copy back, into a demo register that it makes itself",
}


def needs_no_writing(text: str) -> bool:
    """Whether what is typed changes no register."""
    words = [w for w in shlex.split(text) if w in WRITES]
    return not words or (words == ["bring-in"] and "--dry-run" in text)


def cannot_write() -> None:
    """Give up root's right to write where it may not, for the process to come; others have none (Linux)."""
    if hasattr(os, "getuid") and os.getuid() == 0:
        libc = ctypes.CDLL(None, use_errno=True)
        drop_from_bounding_set, dac_override = 24, 1  # linux/prctl.h, linux/capability.h
        if libc.prctl(drop_from_bounding_set, dac_override, 0, 0, 0) != 0:
            raise OSError(ctypes.get_errno(), "the right to write everywhere cannot be given up")


@pytest.mark.skipif(os.name == "nt", reason="rights to write are told otherwise there")
def test_what_needs_no_writing_works_on_a_register_that_may_not_be_written(
    reader: tuple[Reader, dict[str, str]], tmp_path: Path
) -> None:
    """On a register whose folders and files may only be read, all that documents tell of asking works: commands, dry
    runs of clean lists, the notebooks; and nothing in it is changed."""
    place = tmp_path / "reader"
    shutil.copytree(reader[0].folder, place, ignore=shutil.ignore_patterns("fibrebook-notebooks"))
    told = [w.text for w in IN_ORDER if to_run(w) and not w.python and needs_no_writing(w.text)]
    texts = [*dict.fromkeys([*told, *READS])]
    texts = [re.sub(r"\b(blank.xlsx|campus.html|next-visit.html|mill.csv)", r"another-\1", t) for t in texts]
    assert sum("--dry-run" in t for t in texts) == 2
    before = {n: contents(place / n) for n in ("demo-register", "our-register")}
    locked = [p for n in before for p in (place / n, *(place / n).rglob("*"))]
    for path in locked:
        path.chmod(0o555 if path.is_dir() else 0o444)
    cells = {n: written_commands.code_of(n) for n in written_commands.notebooks() if n not in WRITING_NOTEBOOKS}
    commands = [[PLACES.get(w, w) for w in shlex.split(t)][1:] for t in texts]
    asked = {"register": str(place / "demo-register"), "commands": commands, "cells": cells}
    child = [sys.executable, str(Path(__file__).with_name("read_only_reader.py"))]
    environment = {**os.environ, "FIBREBOOK_REGISTER": str(place / "demo-register")}
    try:
        ran = subprocess.run(
            child, input=json.dumps(asked), cwd=place, env=environment, preexec_fn=cannot_write,
            capture_output=True, text=True, check=True,
        )  # fmt: skip
    finally:
        for path in locked:
            path.chmod(0o755)
    told_back = json.loads(ran.stdout)
    assert told_back["refused"] == ["", "commits", "tables"], "the register could be written: nothing is proved"
    failed = {t: said for t, (code, said) in zip(texts, told_back["commands"], strict=True) if code != 0}
    assert failed == {}
    assert {n: said for n, (code, said) in told_back["cells"].items() if code != 0} == {}
    assert {n: contents(place / n) for n in before} == before
