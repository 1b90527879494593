"""The command line: it finds what is meant, says it within 80 columns, and its exit codes mean something."""

from __future__ import annotations

import contextlib
import io
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click
import openpyxl
import pandas as pd
import pyarrow.parquet as pq
import pytest
from demo_once import make_demo

import fibrebook
from fibrebook.cli import OURS, main
from fibrebook.cli.serving_pages import serving

ESCAPE = "\x1b"


@dataclass
class Done:
    """What a command gave back."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """What was printed, as strict JSON: NaN and Infinity are refused."""

        def refuse(word: str) -> None:
            raise AssertionError(f"{word} is no JSON")

        return json.loads(self.out, parse_constant=refuse)


def run(*words: object) -> Done:
    """Run a command in this process, as its entry point does."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), pytest.raises(SystemExit) as ended:
        main([str(w) for w in words])
    assert "Traceback" not in err.getvalue()
    return Done(int(ended.value.code or 0), out.getvalue(), err.getvalue())


def real(*words: object, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run a command in a process of its own."""
    env = {k: v for k, v in os.environ.items() if k != "FIBREBOOK_REGISTER"} | environment
    command = [sys.executable, "-m", "fibrebook", *(str(w) for w in words)]
    return subprocess.run(command, env=env, capture_output=True, text=True, check=False, timeout=120, encoding="utf-8")


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo register; tests here only read it."""
    where = tmp_path_factory.mktemp("demo") / "register"
    make_demo(where)
    return where


@pytest.fixture
def small(tmp_path: Path) -> fibrebook.Register:
    """A register of one cable whose label is also an enclosure's, one of very long labels, and one with a slash."""
    long = "Maintenance corridor, eastern plant room, cabinet nearest the lift"
    reg = fibrebook.create(tmp_path / "small", name="Small")
    with reg.edit(by="RK", why="first") as edit:
        edit.put("sites", [{"site": "Yard"}, {"site": "Yard annexe"}])
        edit.put("locations", [{"site": "Yard", "location": long}])
        edit.put("enclosures", [{"site": "Yard", "enclosure": e, "location": long} for e in ("P1", f"Panel {long}")])
        edit.put("ports", [{"site": "Yard", "enclosure": "P1", "port": p, "position": s} for p in "12" for s in "AB"])
        edit.put("ports", [{"site": "Yard", "enclosure": f"Panel {long}", "port": 1, "position": "A"}])
        ends = {"site": "Yard", "core_count": 12, "a_enclosure": "P1", "b_enclosure": f"Panel {long}", "length_m": 50}
        names = ("P1", f"Riser {long}", "A/B", "A")
        edit.put("cables", [{**ends, "cable": c, "fibre_class": "OS2", "colour_code": "TIA-598"} for c in names])
        made_off = {"site": "Yard", "cable": f"Riser {long}", "core": 1}
        edit.put("terminations", [{**made_off, "enclosure": "P1", "port": 1, "position": "A", "end": "A"}])
        edit.put("terminations", [{**made_off, "enclosure": f"Panel {long}", "port": 1, "position": "A", "end": "B"}])
    return reg


# --- the whole --------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("name", sorted(OURS))
def test_every_command_has_help_in_80_columns_and_json(name: str) -> None:
    """Each command explains itself, and can print JSON."""
    done = run(name, "--help")
    assert done.code == 0
    assert len(OURS[name].function.help or "") > 10
    assert max(map(len, done.out.splitlines())) <= 80
    assert any(isinstance(p, click.Option) and "--json" in p.opts for p in OURS[name].function.params)


def test_the_words_of_the_design_are_there_and_exit_codes_are_told() -> None:
    """The commands that the public face promises exist, and the help says what each exit code means."""
    promised = {
        "open", "new", "bring-in", "send-out", "which", "spare", "headroom", "advice", "history", "verify", "publish",
        "undo", "demo", "sites", "plugins",
    }  # fmt: skip
    assert promised <= set(OURS)
    told = run("--help").out
    assert all(f"{code} " in told.split("Exit codes")[1] for code in "0123")


READING = (
    ("which", "Harbour", "HO-HL/1/3"), ("which", "Quarry", "Q3/18"), ("sites",), ("spare",), ("spare", "--by", "cable"),
    ("spare", "--by", "core", "--site", "Depot"), ("spare", "Office", "Ice house", "--site", "Harbour"), ("headroom",),
    ("headroom", "--all", "--site", "Marina"), ("advice",), ("history",), ("history", "--site", "Depot"),
    ("history", "--table", "cables"), ("verify",), ("pending",), ("which", "Harbour", "HO-FM/1", "orange", "7"),
    ("find", "harbour", "orange", "7"), ("find", "glasshuose"), ("find", "orange 7", "--site", "Harbour"), ("find", "qqqq"),
    ("about", "harbour"), ("on", "Harbour", "SW2"), ("on", "Harbour", "P1"), ("on", "Harbour", "tray", "P3", "2"),
    ("on", "Harbour", "cable", "HO-FM/1"), ("on", "Harbour", "CH1"), ("goes-dark", "Harbour", "HO-FM/1"),
    ("goes-dark", "Harbour", "core", "HO-FM/1", "5"), ("no-light", "Secondary school", "CH7"),
    ("no-light", "Harbour", "HO-FM/1/5"), ("month", "rk"), ("month", "RK", "1999-12"),
    ("spare", "Office", "Market", "--site", "Harbour", "--by", "core"),
    ("spare", "Office", "Light", "--site", "Harbour", "--by", "core"),
)  # fmt: skip


@pytest.mark.parametrize("words", READING, ids=" ".join)
def test_answers_fit_80_columns_without_colour_codes(demo: Path, words: tuple[str, ...]) -> None:
    """Every answer on the demo register fits a terminal of 80 columns and needs no colour."""
    done = run("-r", demo, *words)
    assert done.code == 0
    assert done.out.strip()
    assert max(map(len, done.out.splitlines())) <= 80
    assert ESCAPE not in done.out


@pytest.mark.parametrize("words", READING, ids=" ".join)
def test_answers_are_strict_json_where_asked(demo: Path, words: tuple[str, ...]) -> None:
    """With --json every answer is JSON that any program reads: what is not known is null, never NaN."""
    assert run("-r", demo, *words, "--json").json is not None


# --- which ------------------------------------------------------------------------------------------------------------
def test_which_says_the_far_ends_first_then_each_element(demo: Path) -> None:
    """Far ends in a sentence each, then one line an element with the start marked; the planted hop by cord is seen."""
    lines = run("-r", demo, "which", "Harbour", "HO-HL/1/3").out.splitlines()
    assert lines[0] == "Harbour: core HO-HL/1/3, green core, in service"
    assert lines[1] == "Out of end A it reaches interface SW2/25/Tx."
    assert lines[2] == "Out of end B it reaches interface SW5/9/Rx."
    assert "CH8" in lines[3]  # data/README.md, planted facts: onward hop by cord, light cameras from the market
    assert [line.split()[2] for line in lines if line.startswith(">")] == ["HO-HL/1/3"]
    assert lines[-1].startswith("Never look into a fibre")


@pytest.mark.parametrize(
    "words",
    [
        ("Dairy", "C2/3"), ("Dairy", "C2", "3"), ("dairy", "C2/3"), ("dai", "core", "C2", "3"), ("Dairy", "c2/3"),
    ],
    ids=" ".join,
)  # fmt: skip
def test_which_understands_how_people_write(demo: Path, words: tuple[str, ...]) -> None:
    """A beginning of the site in any case; cable and core as one word or two; a label in another case."""
    found = run("-r", demo, "which", *words, "--json").json
    assert found["site"] == "Dairy"
    assert [f["start"] for f in found["found"]] == [["core", "C2", "3"]]


def test_which_gives_the_same_path_as_python(demo: Path) -> None:
    """The elements are those of `fibrebook.trace`, and the far ends those of `cross_reference`."""
    reg = fibrebook.open(demo)
    one = run("-r", demo, "which", "Harbour", "HO-HL/1/3", "--json").json["found"][0]
    frame = fibrebook.trace(reg, "Harbour", ("core", "HO-HL/1", 3))
    assert [(s["kind"], s["at"], s["name"]) for s in one["path"]] == list(
        frame[["kind", "at", "name"]].itertuples(index=False, name=None)
    )
    cores = fibrebook.cross_reference(reg, "Harbour").set_index(["cable", "core"])
    row = cores.loc[("HO-HL/1", 3)]
    assert [r["text"] for r in one["reaches"]] == [row["a_reaches"], row["b_reaches"]]
    assert one["state"] == row["state"]


def test_which_of_a_duplex_port_tells_both_positions(demo: Path) -> None:
    """A port without a position is told for A and for B; with one, for that alone; an interface too."""
    starts = [f["start"] for f in run("-r", demo, "which", "Harbour", "P1/2", "--json").json["found"]]
    assert starts == [["port", "P1", "2", "A"], ["port", "P1", "2", "B"]]
    assert len(run("-r", demo, "which", "Harbour", "P1/2/B", "--json").json["found"]) == 1
    assert "reaches interface SW5/9/Rx" in run("-r", demo, "which", "Harbour", "SW2/25/Tx").out


def test_which_fits_80_columns_with_the_longest_labels(small: fibrebook.Register) -> None:
    """Labels longer than the terminal are broken over lines; not a letter of them is lost."""
    cable = next(c for c in small.table("cables")["cable"] if c.startswith("Riser"))
    done = run("-r", small.where, "which", "Yard", f"{cable}/1")
    assert max(map(len, done.out.splitlines())) <= 80
    assert "".join(cable.split()) in "".join(done.out.split())


def test_which_names_what_a_label_may_mean(small: fibrebook.Register) -> None:
    """Where words mean a port and a core, both are listed and nothing is guessed; the kind before them decides."""
    done = run("-r", small.where, "which", "Yard", "P1/1")
    assert done.code == 1
    assert "core P1 1" in done.err
    assert "port P1 1 A" in done.err
    assert run("-r", small.where, "which", "Yard", "core", "P1", "1", "--json").json["found"][0]["start"][0] == "core"
    assert len(run("-r", small.where, "which", "Yard", "port", "P1/1", "--json").json["found"]) == 2


def test_which_splits_labels_with_slashes(small: fibrebook.Register) -> None:
    """A cable called A/B is found beside one called A."""
    assert run("-r", small.where, "which", "Yard", "A/B/2", "--json").json["found"][0]["start"] == ["core", "A/B", "2"]
    assert run("-r", small.where, "which", "Yard", "A/2", "--json").json["found"][0]["start"] == ["core", "A", "2"]


def test_a_site_that_begins_like_another_is_found(small: fibrebook.Register) -> None:
    """A whole label is meant even where another site's begins with it; a beginning of both is asked about."""
    assert run("-r", small.where, "which", "yard", "A/2", "--json").json["site"] == "Yard"
    done = run("-r", small.where, "which", "ya", "A/2")
    assert done.code == 1
    assert "Yard, Yard annexe" in done.err


def test_what_is_not_there_is_said_with_what_to_write(demo: Path) -> None:
    """No such site or core: exit code 1, one line on stderr, nothing on stdout."""
    for words, told in (
        (("which", "Dairy", "C99/1"), "C99/1"), (("which", "Nowhere", "C1/1"), "no site"),
        (("spare", "here", "there", "--site", "Dairy"), "here"), (("spare", "--site", "Nowhere"), "no site"),
    ):  # fmt: skip
        done = run("-r", demo, *words)
        assert (done.code, done.out) == (1, "")
        assert told in done.err


# --- spare, headroom, advice ------------------------------------------------------------------------------------------
def test_spare_begins_with_sites_that_have_none(demo: Path) -> None:
    """The first rows are the sites without a spare core, and they are named below (data/README.md, planted facts)."""
    out = run("-r", demo, "spare").out
    body = out.split("-\n", 1)[1].splitlines()
    assert {line.split("  ")[0] for line in body[:3]} == {"Depot", "Brewery", "Grain store"}
    assert "No spare cores left: Depot, Brewery, Grain store." in out


@pytest.mark.parametrize("by", ["site", "cable", "core"])
def test_spare_as_json_is_what_python_says(demo: Path, by: Any) -> None:
    """The rows are those of `fibrebook.spare`."""
    told = pd.DataFrame(run("-r", demo, "spare", "--by", by, "--json").json)
    frame = fibrebook.spare(fibrebook.open(demo), by=by)
    assert list(told.columns) == list(frame.columns)
    assert told.astype(str).to_numpy().tolist() == frame.astype(str).to_numpy().tolist()


def test_spare_between_two_places(demo: Path) -> None:
    """Strands from the office to the ice house: 2 now, 7 after patching, 11 after splicing (planted facts)."""
    rows = run("-r", demo, "spare", "Office", "Ice house", "--site", "Harbour", "--json").json
    assert [(r["level"], r["strands"]) for r in rows] == [("now", 2), ("patching", 7), ("splicing", 11)]


def test_headroom_begins_with_the_tightest(demo: Path) -> None:
    """One row a channel, the tightest first; CH6 of the mill is over its limit (data/README.md, planted facts)."""
    lines = run("-r", demo, "headroom", "--site", "Mill").out.splitlines()
    channels = [line.split()[1] for line in lines if line.startswith("Mill")]
    assert channels[:2] == ["CH6", "CH3"]
    assert len(channels) == len(set(channels)) == 6
    every = run("-r", demo, "headroom", "--site", "Mill", "--json").json
    assert len(every) == len(fibrebook.headroom(fibrebook.open(demo), "Mill"))


def test_advice_can_be_asked_for_by_check(demo: Path) -> None:
    """Only the checks that were asked for are told."""
    rows = run("-r", demo, "advice", "--check", "no spare cores", "--json").json
    assert {r["site"] for r in rows} >= {"Depot", "Brewery", "Grain store"}
    assert {r["check"] for r in rows} == {"no spare cores"}


# --- which register ---------------------------------------------------------------------------------------------------
def test_the_register_is_found_in_four_ways(demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Named before the command, after it, by FIBREBOOK_REGISTER, or as ./register; the nearer wins."""
    monkeypatch.chdir(demo.parent)  # which holds a folder 'register'
    monkeypatch.delenv("FIBREBOOK_REGISTER", raising=False)
    assert len(run("sites", "--json").json) == 18
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FIBREBOOK_REGISTER", str(demo))
    assert len(run("sites", "--json").json) == 18
    fibrebook.create(tmp_path / "empty")
    assert run("-r", tmp_path / "empty", "sites").out == "no sites yet\n"
    assert run("sites", "-r", tmp_path / "empty").out == "no sites yet\n"


def test_without_a_register_it_says_how_to_name_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No register: exit code 1, and the three ways to name one; with --json the error is JSON too."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("FIBREBOOK_REGISTER", raising=False)
    done = run("sites")
    assert done.code == 1
    assert all(w in done.err for w in ("--register", "FIBREBOOK_REGISTER", "fibrebook demo"))
    told = run("sites", "--json")
    assert (told.code, told.json["error"]) == (1, "NotFoundError")


def test_a_misspelt_command_is_exit_code_2(demo: Path) -> None:
    """Unknown commands, options and missing words are exit code 2."""
    for words in (("wich",), ("-r", demo, "which", "Dairy"), ("spare", "--by", "lorry"), ("undo", "3")):
        assert run(*words).code == 2


# --- files, changes ---------------------------------------------------------------------------------------------------
@pytest.fixture
def own(tmp_path: Path) -> Iterator[Path]:
    """A register made by the command line, with one site brought in."""
    where, book = tmp_path / "own", tmp_path / "book.xlsx"
    assert run("new", where, "--name", "Our firm").code == 0
    _write(book, "sites", ["site", "name"], [["Dock", "The dock"]])
    assert run("-r", where, "bring-in", book, "--by", "RK", "--why", "first").code == 0
    yield where


def _write(path: Path, sheet: str, head: list[str], rows: list[list[Any]]) -> None:
    book = openpyxl.Workbook()
    page = book.active
    page.title = sheet
    for row in (head, *rows):
        page.append(row)
    book.save(path)


def test_a_workbook_goes_out_and_comes_back(own: Path, tmp_path: Path) -> None:
    """Sent out, changed and brought in again; the history says who and why; an existing file is not written over."""
    book = tmp_path / "out.xlsx"
    assert run("-r", own, "send-out", book).code == 0
    assert run("-r", own, "send-out", book).code == 1
    assert run("-r", own, "send-out", book, "--force").code == 0
    pages = openpyxl.load_workbook(book)
    column = next(c.column for c in pages["sites"][1] if c.value == "name")
    pages["sites"].cell(2, column, "The old dock")
    pages.save(book)
    assert run("-r", own, "bring-in", book, "--by", "JM", "--why", "renamed").code == 0
    assert fibrebook.open(own).table("sites")["name"].tolist() == ["The old dock"]
    rows = run("-r", own, "history", "--site", "Dock", "--last", "1", "--json").json
    assert [(r["by"], r["why"], r["before"], r["after"]) for r in rows] == [
        ("JM", "renamed", "The dock", "The old dock")
    ]


def test_a_dry_run_that_finds_problems_is_exit_code_3(own: Path, tmp_path: Path) -> None:
    """A dry run tells every wrong cell and changes nothing (code 3); in earnest the same file is refused (code 1)."""
    bad = tmp_path / "bad.xlsx"
    _write(bad, "cables", ["site", "cable", "core_count"], [["Dock", "C1", "a dozen"], ["Nowhere", "C2", 4]])
    words = ("-r", own, "bring-in", bad, "--by", "RK", "--why", "cables")
    dry = run(*words, "--dry-run")
    assert dry.code == 3
    assert "C2" in dry.out or "cables" in dry.out
    assert run(*words, "--dry-run", "--json").json[0]["ok"] is False
    refused = run(*words)
    assert refused.code == 1
    assert "a dozen" in refused.err
    assert fibrebook.open(own).commit == 1
    assert not len(fibrebook.open(own).table("cables"))


def test_a_commit_is_taken_back(own: Path) -> None:
    """`undo` makes a new commit; one that is not there is an error."""
    assert run("-r", own, "undo", "1", "--by", "RK", "--why", "wrong firm", "--json").json == {"undone": 1, "commit": 2}
    assert len(fibrebook.open(own).table("sites")) == 0
    assert run("-r", own, "undo", "9", "--by", "RK", "--why", "none").code == 1


def test_verify_is_sound_or_names_the_file(own: Path) -> None:
    """A sound register is exit code 0; one changed byte is exit code 3, with the file named."""
    assert run("-r", own, "verify").code == 0
    assert run("-r", own, "verify", "--json").json["sound"] is True
    file = next((own / "tables" / "sites").glob("*.parquet"))
    data = bytearray(file.read_bytes())
    data[len(data) // 2] ^= 1
    file.chmod(0o644)
    file.write_bytes(bytes(data))
    done = run("-r", own, "verify", "--json")
    assert done.code == 3
    assert [Path(p["file"]).name for p in done.json["problems"]] == [file.name]


def test_published_tables_are_plain_parquet(own: Path, tmp_path: Path) -> None:
    """`publish` writes one file a table that any reader of Parquet opens."""
    assert run("-r", own, "publish", tmp_path / "plain").code == 0
    assert pq.read_table(tmp_path / "plain" / "sites.parquet")["site"].to_pylist() == ["Dock"]


def test_asking_never_changes_a_register(demo: Path) -> None:
    """Answers leave every file of the register as it was."""

    def state() -> dict[str, int]:
        return {str(p): p.stat().st_mtime_ns for p in demo.rglob("*") if p.is_file()}

    before = state()
    for words in READING:
        run("-r", demo, *words)
    assert state() == before


# --- beginning --------------------------------------------------------------------------------------------------------
def test_the_demo_answers_the_three_questions_and_is_never_written_over(tmp_path: Path) -> None:
    """`demo` prints a path, the sites with nothing left and the headroom; a second time it refuses."""
    done = run("demo", tmp_path / "d")
    assert done.code == 0
    assert max(len(line) for line in done.out.splitlines() if str(tmp_path) not in line) <= 80
    for words in ("Out of end A it reaches", "No spare cores left: Depot, Brewery, Grain store.", "CH6", "open"):
        assert words in done.out
    again = run("demo", tmp_path / "d")
    assert again.code == 1
    assert "already" in again.err


def test_notebooks_are_copied_and_yours_are_kept(demo: Path, tmp_path: Path) -> None:
    """`open --copy-only` copies the notebooks; one that you changed is kept and named."""
    folder = tmp_path / "mine"
    first = run("-r", demo, "open", "--folder", folder, "--copy-only", "--json").json
    assert {"return_visit.ipynb", "lessons/return_visit.ipynb"} <= {*first["copied"]}
    (folder / "return_visit.ipynb").write_text("{}", encoding="utf-8")
    again = run("-r", demo, "open", "--folder", folder, "--copy-only")
    assert "return_visit.ipynb" in again.out
    assert (folder / "return_visit.ipynb").read_text(encoding="utf-8") == "{}"


@pytest.mark.parametrize("how", ["", "--notebooks", "--pages"])
def test_what_is_opened_is_on_this_machine_only(
    demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, how: str
) -> None:
    """It listens on loopback, keeps its token, and is told the register by its whole path; one page, or notebooks."""
    called: dict[str, Any] = {}

    def instead(what: str, words: list[str], env: dict[str, str]) -> int:
        called.update(what=what, words=words, env=env)
        return 0

    monkeypatch.setattr(serving, "serve", instead)
    monkeypatch.chdir(demo.parent)
    words = ["-r", demo.name, "open", "--folder", tmp_path / "n", "--no-browser", "--port", "8999"]
    assert run(*words, *filter(None, [how])).code == 0
    assert called["what"] == (serving.LAB if how == "--notebooks" else serving.PAGES)
    assert {"--ip=127.0.0.1", "--Voila.ip=127.0.0.1"} & set(called["words"])
    assert (tmp_path / "n" / "return_visit.ipynb").exists() == bool(how)
    assert "--port=8999" in called["words"]
    assert "--no-browser" in called["words"]
    assert not any("token=" in w or "password" in w for w in called["words"] if w != "--Voila.auto_token=True")
    assert called["env"]["FIBREBOOK_REGISTER"] == str(demo.resolve())


def test_plugins_lists_our_own_parts() -> None:
    """`plugins` names what is at the door, our own parts among it."""
    assert {"fibrebook.reference.door", "fibrebook.analyses.door"} <= {p["name"] for p in run("plugins", "--json").json}


# --- as a process -----------------------------------------------------------------------------------------------------
def test_a_cold_answer_imports_no_pandas(demo: Path) -> None:
    """`which` from cold loads neither pandas nor a spreadsheet library nor what only notebooks need."""
    code = (
        "import sys\nfrom fibrebook.cli import main\ntry:\n    main()\n"
        "finally:\n    print(*sys.modules, file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, "-r", str(demo), "which", "Dairy", "C2/3"],
        capture_output=True, text=True, check=True, encoding="utf-8",
    )  # fmt: skip
    loaded = set(done.stderr.split())
    assert "pyarrow.lib" in loaded
    assert not loaded & {"pandas", "openpyxl", "python_calamine", "obstore", "ipywidgets", "scipy", "networkx"}


def test_a_console_that_knows_few_letters_is_no_reason_to_stop(demo: Path) -> None:
    """On a cp1252 console, arrows and the like are replaced, not raised."""
    done = subprocess.run(
        [sys.executable, "-m", "fibrebook", "-r", str(demo), "advice"],
        env={**os.environ, "PYTHONIOENCODING": "cp1252", "PYTHONUTF8": "0"}, capture_output=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0
    assert b"Depot" in done.stdout.decode("cp1252").encode()


def test_exit_codes_reach_the_shell(demo: Path) -> None:
    """0, 1 and 2 as a process, messages on stderr and never a traceback."""
    for words, code in ((("sites",), 0), (("which", "Dairy", "C99/1"), 1), (("wich",), 2)):
        done = real("-r", demo, *words)
        assert done.returncode == code
        assert bool(done.stderr) == bool(code)
        assert "Traceback" not in done.stderr


def test_environment_chooses_the_register(demo: Path) -> None:
    """FIBREBOOK_REGISTER is heeded by a process of its own."""
    assert len(json.loads(real("sites", "--json", FIBREBOOK_REGISTER=str(demo)).stdout)) == 18
