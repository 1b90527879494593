"""Labels are what can be seen; what cannot is refused, what reads alike is advised of, and nothing acts on a terminal."""

from __future__ import annotations

import contextlib
import io
import json
from pathlib import Path
from typing import Any

import pytest

import fibrebook
from fibrebook.cli import main
from fibrebook.errors import InputError, NotFoundError
from fibrebook.records import KINDS, to_table
from fibrebook.words.printable import acts, visible

UNSEEN = {
    "zero width space": "\u200b",
    "zero width joiner": "\u200d",
    "text turned": "\u202e",
    "text isolated": "\u2066",
    "soft hyphen": "\u00ad",
    "byte order mark": "\ufeff",
    "no-break space": "\u00a0",
    "wide space": "\u3000",
    "filler": "\u3164",
    "variation": "\ufe0f",
    "tag": "\U000e0041",
    "private": "\ue000",
}
ESCAPE = "\x1b]0;owned\x07\x1b[31m"


def rows(label: str) -> dict[str, list[dict[str, Any]]]:
    """A little plant, one of whose panels bears the label."""
    return {
        "sites": [{"site": "S"}],
        "enclosures": [{"site": "S", "enclosure": label}, {"site": "S", "enclosure": "P2"}],
        "ports": [{"site": "S", "enclosure": label, "port": "1"}, {"site": "S", "enclosure": "P2", "port": "1"}],
        "cables": [{"site": "S", "cable": "C1", "a_enclosure": label, "b_enclosure": "P2", "core_count": 2}],
        "terminations": [{"site": "S", "enclosure": label, "port": "1", "cable": "C1", "core": 1}],
    }


def put(reg: fibrebook.Register, given: dict[str, list[dict[str, Any]]]) -> None:
    """Put rows in one commit."""
    with reg.edit(by="ab", why="x") as edit:
        for table, found in given.items():
            edit.put(table, found)


def run(*words: object) -> tuple[int, str]:
    """Run a command in this process; return its code and all it said."""
    said = io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said), pytest.raises(SystemExit) as ended:
        main([str(w) for w in words])
    return int(ended.value.code or 0), said.getvalue()


@pytest.mark.parametrize("name", UNSEEN)
def test_a_label_with_what_cannot_be_seen_is_refused_by_its_number(tmp_path, name):
    """Each invisible or direction-turning character in a label is refused, named by its number; in a note it may stand."""
    reg = fibrebook.create(tmp_path / "reg")
    number = f"U\\+{ord(UNSEEN[name]):04X}"
    with pytest.raises(InputError, match=f"holds {number}, which cannot be seen"):
        put(reg, rows(f"P{UNSEEN[name]}1"))
    _, problems = to_table(KINDS["sites"], [{"site": "S", "notes": f"a{UNSEEN[name]}b"}])
    assert problems == []


@pytest.mark.parametrize("label", ["P²", "Ⅷ", "ß/Ü", "架1", "لوحة", "é", "1½", "P 1", "#!%&", "👷"])
def test_whatever_can_be_seen_may_stand_in_a_label(tmp_path, label):
    """A printable label is taken, and every question about it is answered, raised digits too."""
    reg = fibrebook.create(tmp_path / "reg")
    put(reg, rows(label))
    assert len(fibrebook.cross_reference(reg, "S")) == 2
    fibrebook.advice(reg)
    for kind in ("core", "port"):
        start = ("core", "C1", 1) if kind == "core" else ("port", label, "1", "")
        assert len(fibrebook.trace(reg, "S", start)) >= 2
    assert run("-r", tmp_path / "reg", "which", "S", "port", label, "1")[0] == 0
    fibrebook.send_out(reg, tmp_path / "out.xlsx")
    assert fibrebook.bring_in(reg, tmp_path / "out.xlsx", by="ab", why="x").ok


@pytest.mark.parametrize("core", ["²", "١²", "9" * 5000, "-1", "1.5", "½"])
def test_a_core_number_that_is_none_is_told_in_words(tmp_path, core):
    """Raised digits and endless numbers as a core are no raw error."""
    reg = fibrebook.create(tmp_path / "reg")
    put(reg, rows("P1"))
    with pytest.raises(NotFoundError):
        fibrebook.trace(reg, "S", ("core", "C1", core))
    code, said = run("-r", tmp_path / "reg", "which", "S", f"C1/{core}")
    assert (code, "Traceback" in said) == (1, False)
    with pytest.raises(fibrebook.FibrebookError):
        put(reg, {"cables": [{"site": "S", "cable": "C1", "tube_sizes": core}]})


@pytest.mark.parametrize(("one", "other"), [("Old Mill", "old mill"), ("Old Mill", "OldMill"), ("P²", "P2")])
def test_labels_that_read_alike_are_advised_of(tmp_path, one, other):
    """Sites, panels and cables whose labels differ by capitals, spaces or raised digits alone are worth a second look."""
    reg = fibrebook.create(tmp_path / "reg")
    put(reg, {"sites": [{"site": one}, {"site": other}, {"site": "Elsewhere"}]})
    put(reg, {"enclosures": [{"site": one, "enclosure": e} for e in (one, other, "P9")]})
    found = fibrebook.advice(reg)
    alike = found[found["check"] == "labels alike"]
    assert set(alike["table"]) == {"sites", "enclosures"}
    assert all(repr(one) in what and repr(other) in what for what in alike["what"])
    assert fibrebook.advice(reg, "Elsewhere").empty


def test_a_bad_label_of_former_times_can_be_relabelled(tmp_path, monkeypatch):
    """A register that holds a label which is refused today can be put right: the label is given a new one."""
    reg = fibrebook.create(tmp_path / "reg")
    monkeypatch.setattr("fibrebook.records.values.to_columns.UNSEEN", "[\\x00]")
    put(reg, rows("P\u200b1"))
    monkeypatch.undo()
    with reg.edit(by="ab", why="mended") as edit:
        edit.rename("enclosures", "S", "P\u200b1", "P1")
    assert reg.table("terminations")["enclosure"].tolist() == ["P1"]


@pytest.mark.parametrize("where", ["by", "why"])
def test_who_and_why_are_what_can_be_seen(tmp_path, where):
    """Terminal codes in an author or a reason are refused in words before anything is committed."""
    reg = fibrebook.create(tmp_path / "reg")
    with pytest.raises(InputError, match=rf"'{where}' holds U\+001B"):
        reg.edit(**{"by": "ab", "why": "x", where: f"a{ESCAPE}"})
    with pytest.raises(InputError, match="'name' holds"):
        fibrebook.create(tmp_path / "other", name=f"a{ESCAPE}")


@pytest.fixture
def hostile(tmp_path, monkeypatch) -> Path:
    """A register from elsewhere in which codes for a terminal stand wherever a text may."""
    monkeypatch.setattr("fibrebook.register.commits.edit.required_text", lambda text, name, example: text)
    monkeypatch.setattr("fibrebook.records.values.to_columns.CONTROL_IN_LABEL", "[\\x00]")
    monkeypatch.setattr("fibrebook.records.values.to_columns.CONTROL_IN_TEXT", "[\\x00]")
    monkeypatch.setattr("fibrebook.records.values.to_columns.UNSEEN", "[\\x00]")
    reg = fibrebook.create(tmp_path / "reg", name="n")
    bad = f"P{ESCAPE}\u202e\x9b31m"
    given = rows(bad)
    given["sites"] = [{"site": "S", "name": bad, "customer": bad, "notes": bad}]
    given["snags"] = [{"site": "S", "snag": bad, "what": bad, "found_on": "2026-01-01"}]
    with reg.edit(by=bad, why=bad) as edit:
        for table, found in given.items():
            edit.put(table, found)
    monkeypatch.undo()
    return tmp_path / "reg"


COMMANDS = (
    "sites", "history", "history --site S", "history --table enclosures", "spare", "spare --by cable", "spare --by core",
    "which S C1/1", "advice", "headroom", "untested", "polarity", "acceptance", "room-for", "verify", "pending",
    "would-run S C1/1", "splices", "which S nothing", "ask cross_reference", "publish out",
)  # fmt: skip


@pytest.mark.parametrize("as_json", [False, True], ids=["text", "json"])
def test_no_code_reaches_a_terminal(hostile, tmp_path, monkeypatch, as_json):
    """Whatever stands in a label, author, reason or note, no command prints a control or a turn of direction."""
    monkeypatch.chdir(tmp_path)
    seen = ""
    for number, words in enumerate(COMMANDS):
        words = words.replace("out", f"out{number}")
        code, said = run("-r", hostile, *words.split(), *(["--json"] if as_json else []))
        assert "Traceback" not in said
        assert [c for c in said if acts(c)] == [], words
        if as_json and code == 0:
            json.loads(said)
        seen += said
    assert ("\\u009b" if as_json else "<U+001B>") in seen


def test_json_reads_back_as_it_was(hostile):
    """What is escaped for the terminal is still the same text to a program."""
    _, said = run("-r", hostile, "history", "--json")
    assert json.loads(said)[0]["by"] == f"P{ESCAPE}\u202e\x9b31m"


def test_lines_and_gaps_stay() -> None:
    """Our own lines and gaps are printed as they are, and plain text is untouched."""
    assert visible("a\n\tb²é架") == "a\n\tb²é架"
    assert visible("a\x1bb") == "a<U+001B>b"
