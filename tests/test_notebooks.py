"""The notebooks as they are kept: screens of one cell with a picture, and lessons with outputs and exercises.

That they run is checked by nbval.
"""

from __future__ import annotations

import base64
import json
import re
from pathlib import Path
from typing import Any

import pytest
from demo_once import make_demo

from fibrebook.screens.front_door.door import OUR_SCREENS

FOLDER = Path(__file__).parent.parent / "notebooks"
SCREENS, LESSONS = sorted(FOLDER.glob("*.ipynb")), sorted(FOLDER.glob("lessons/*.ipynb"))
NOTEBOOKS = [*SCREENS, *LESSONS]
LONGEST = 10  # lines of a code cell, imports included


def name(path: Path) -> str:
    """A notebook's name among the tests."""
    return path.relative_to(FOLDER).with_suffix("").as_posix()


def read(path: Path) -> dict[str, Any]:
    """A notebook as it stands in its file."""
    found: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return found


def code_cells(notebook: dict[str, Any]) -> list[dict[str, Any]]:
    """Its cells of code."""
    return [c for c in notebook["cells"] if c["cell_type"] == "code"]


def test_every_screen_has_a_notebook_and_the_three_questions_a_lesson() -> None:
    """One for each screen behind the front page, and one for that; lessons on return visit, spares and headroom at least."""
    functions = {page.run.partition(":")[2] for page in OUR_SCREENS}
    assert {p.stem for p in SCREENS} == functions | {"home"}
    assert {"return_visit", "spares", "headroom"} <= {p.stem for p in LESSONS}


@pytest.mark.parametrize("path", SCREENS, ids=name)
def test_a_screen_is_one_cell_that_keeps_a_picture_and_a_sentence(path: Path) -> None:
    """Nothing to scroll past; what stands there before it is run is no representation of an object."""
    (cell,) = read(path)["cells"]
    told, shown = cell["outputs"]
    assert "".join(told["data"]["text/markdown"]).endswith("Without a notebook: `fibrebook open`.")
    assert base64.b64decode(shown["data"]["image/png"])[:8] == b"\x89PNG\r\n\x1a\n"
    assert "(" not in "".join(shown["data"]["text/plain"])
    assert path.stat().st_size < 80_000


@pytest.mark.parametrize("path", LESSONS, ids=name)
def test_a_lesson_ends_with_something_to_try(path: Path) -> None:
    """Two exercises at least, numbered."""
    last = "".join(read(path)["cells"][-1]["source"])
    assert last.startswith("## To try") and "\n2. " in last


@pytest.mark.parametrize("path", NOTEBOOKS, ids=name)
def test_outputs_are_kept_and_none_is_an_error(path: Path) -> None:
    """Code cells were run in order and at least half of them show something: nbval has something to compare."""
    cells = code_cells(read(path))
    assert [c["execution_count"] for c in cells] == list(range(1, len(cells) + 1))
    assert sum(bool(c["outputs"]) for c in cells) >= len(cells) / 2
    assert all(o["output_type"] != "error" for c in cells for o in c["outputs"])


@pytest.mark.parametrize("path", NOTEBOOKS, ids=name)
def test_no_time_and_no_path_of_a_machine_is_kept(path: Path) -> None:
    """Neither when nor where a notebook was run stands in it."""
    notebook = read(path)
    assert all("execution" not in c["metadata"] for c in notebook["cells"])
    assert "widgets" not in notebook["metadata"]
    kept = json.dumps([c.get("outputs", []) for c in notebook["cells"]])
    assert not re.search(r"(?<![\w<])/(?:tmp|home|work|root|opt|var|Users)/|[A-Z]:\\\\", kept)
    assert not re.search(r"\d\d:\d\d:\d\d", kept)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=name)
def test_cells_are_short(path: Path) -> None:
    """A cell is read at a glance."""
    for cell in code_cells(read(path)):
        assert len("".join(cell["source"]).splitlines()) <= LONGEST


@pytest.mark.parametrize("path", LESSONS, ids=name)
def test_text_stands_before_code(path: Path) -> None:
    """Each begins with a heading that says what it answers."""
    first = read(path)["cells"][0]
    assert first["cell_type"] == "markdown"
    assert "".join(first["source"]).startswith("# ")


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A register that no notebook made: the demo firm's, as a firm's own would be chosen."""
    where = tmp_path_factory.mktemp("firm") / "register"
    make_demo(where)
    return where


def files_of(register: Path) -> dict[str, bytes]:
    """Every file of a register and its bytes."""
    return {str(p.relative_to(register)): p.read_bytes() for p in sorted(register.rglob("*")) if p.is_file()}


@pytest.mark.parametrize("path", NOTEBOOKS, ids=name)
def test_running_all_of_a_notebook_writes_nothing_into_the_register(
    path: Path, kept: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every cell run, as Run All does, leaves the register chosen as it was, to the byte; screens among them."""
    monkeypatch.setenv("FIBREBOOK_REGISTER", str(kept))
    monkeypatch.setenv("FIBREBOOK_DRAFTS", str(tmp_path / "drafts"))
    monkeypatch.chdir(tmp_path)
    before = files_of(kept)
    names: dict[str, Any] = {"__name__": "__main__", "display": lambda *shown: None}
    for cell in code_cells(read(path)):
        exec(compile("".join(cell["source"]), path.name, "exec"), names)
    assert files_of(kept) == before
