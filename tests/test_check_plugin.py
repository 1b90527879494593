"""`fibrebook check-plugin`: a sound plugin passes every step, a faulty one is found out at the right one."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from random import Random
from typing import Any

import pytest

import fibrebook
from fibrebook import plugins
from fibrebook.cli import main
from fibrebook.errors import NotFoundError, Problem
from fibrebook.plugin_check.random_rows import random_plant, random_rows
from fibrebook.plugin_check.steps import STEPS, try_plugin
from fibrebook.plugins import AdviceCheck, Analysis, HardRule, SpokenName
from fibrebook.records import BUILT_IN_KINDS, KINDS, Column, Kind, Link

SITE = Column("site", "label", "The site.", required=True)
PITS = Kind(
    "pits", "pit", "A pit.",
    (SITE, Column("pit", "label", "Label.", required=True), Column("location", "label", "Where."),
     Column("at", "label", "Port's place."), Column("port", "label", "Port."), Column("position", "text", "Position."),
     Column("core", "integer", "Core."), Column("cable", "label", "Cable.", required=True),
     Column("wide_mm", "number", "How wide.", unit="mm", minimum=1, maximum=100)),
    ("site", "pit"),
    (Link(("location",), ("locations",)), Link(("at", "port", "position"), ("ports", "interfaces")),
     Link(("cable", "core"), ("cores",))),
)  # fmt: skip

DEEP = Column("deep_m", "number", "How deep.", unit="m", minimum=0, maximum=4)


@pytest.fixture
def firm(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., None]]:
    """Give a function that makes a plugin of some hooks the one that is installed, as "firm"."""

    def install(**given: Any) -> None:
        parts = {}
        for hook, what in given.items():
            give = plugins.hookimpl(lambda what=what: what() if callable(what) else what)
            give.__name__ = hook
            parts[hook] = staticmethod(give)
        entry = type("Entry", (), {"name": "firm", "value": "firm", "load": lambda self: type("Firm", (), parts)()})
        monkeypatch.setattr("importlib.metadata.entry_points", lambda group: [entry()])

    yield install
    plugins.manager.cache_clear()


def steps(**options: Any) -> dict[str, tuple[bool, str]]:
    """The steps of the firm's plugin by name: whether each held, and what was found."""
    return {s.name: (s.held, s.found) for s in try_plugin("firm", **options)}


@pytest.mark.parametrize("seed", range(4))
def test_a_sound_plugin_passes_every_step(firm, seed):
    """Kinds with links of every sort, a rule that refuses some rows, a check and an analysis: each step holds."""

    def wide_enough(tables):
        for row in tables["pits"].to_pylist():
            if row["wide_mm"] is not None and row["wide_mm"] < 60:
                yield Problem("pits", "too narrow", "dig", "pits", (row["site"], row["pit"]), "wide_mm")

    def not_too_deep(tables):
        for row in tables["cables"].to_pylist():
            if row["deep_m"] is not None and row["deep_m"] > 2:
                yield Problem("cables", "too deep", "dig", "cables", (row["site"], row["cable"]), "deep_m")

    firm(
        record_kinds=[PITS],
        extra_columns={"cables": [DEEP], "sites": [Column("key_at", "text", "Where the key is.", personal=True)]},
        hard_rules=[
            HardRule("wide enough", wide_enough, "", ("pits",)),
            HardRule("not too deep", not_too_deep, "", ("cables",)),
        ],
        advice_checks=[AdviceCheck("nothing", lambda situation: [])],
        analyses=[Analysis("pits", lambda reg: reg.table("pits"))],
    )
    found = steps(seed=seed)
    assert {n: s for n, s in found.items() if not s[0]} == {}
    assert list(found) == [name for name, _ in STEPS]
    assert "its hard rules refused" in found["commit"][1]


def broken(*given):
    """Break."""
    raise RuntimeError("half way")


FAULTY = {
    "what it gives: a column": ({"extra_columns": {"cables": [SITE]}}, "'site' already"),
    "load": ({"record_kind": list}, "record_kind"),
    "what it gives": ({"analyses": [Analysis("x", "no_module:x")]}, "no_module"),
    "what it gives: a hook": ({"layout_files": broken}, "half way"),
    "what it gives: a kind": ({"record_kinds": [Kind("pits", "pit", "", PITS.columns, PITS.key)]}, "no help"),
    "commit": ({"record_kinds": [PITS], "hard_rules": [HardRule("x", broken)]}, "half way"),
    "advice and analyses": ({"advice_checks": [AdviceCheck("x", broken)]}, "half way"),
    "advice and analyses: a way of calling": ({"spoken_names": [SpokenName("cables", broken)]}, "half way"),
    "advice and analyses: no table": ({"analyses": [Analysis("x", lambda reg: 5)]}, "where a DataFrame is wanted"),
}  # fmt: skip


@pytest.mark.parametrize("name", FAULTY)
def test_a_faulty_plugin_is_found_out(firm, name):
    """The step at which it breaks does not hold, and says why; those before it do."""
    given, words = FAULTY[name]
    firm(**given)
    found = steps()
    step = name.partition(":")[0]
    assert not found[step][0] and words in found[step][1]
    assert all(held for n, (held, _) in found.items() if list(found).index(n) < list(found).index(step))


def test_a_rule_that_refuses_undoing_is_found_out(firm):
    """A rule that minds that rows are gone does not let an undo pass."""
    firm(
        record_kinds=[PITS],
        hard_rules=[
            HardRule("never fewer", lambda tables: [] if tables["pits"].num_rows else [Problem("pits", "gone")])
        ],
    )
    assert not steps()["undo"][0]


def test_the_command_tells_each_step(firm, capsys):
    """Text and JSON; exit code 3 where a step does not hold, 1 where there is no such plugin."""
    firm(record_kinds=[PITS])
    for words, code in ((["firm"], 0), (["firm", "--json"], 0), (["nobody"], 1)):
        with pytest.raises(SystemExit) as ended:
            main(["check-plugin", *words])
        assert ended.value.code == code
    text, _, as_json = capsys.readouterr().out.partition("[")
    assert "take away, bring back" in text
    assert all(s["holds"] for s in json.loads("[" + as_json))
    firm(advice_checks=broken)
    with pytest.raises(SystemExit) as ended:
        main(["check-plugin", "firm"])
    assert ended.value.code == 3 and "half way" in capsys.readouterr().out


def test_nothing_stays_behind(firm, monkeypatch):
    """The plugins that were asked for are at the door again, and the variable is as it was."""
    monkeypatch.setenv("FIBREBOOK_PLUGINS", "")
    firm(record_kinds=[PITS])
    with pytest.raises(NotFoundError, match="'other'"):
        try_plugin("other")
    try_plugin("firm")
    assert [n for n, _ in plugins.installed()] == list(plugins.BUILT_IN)
    assert "pits" not in KINDS


@pytest.mark.parametrize("seed", range(20))
def test_random_rows_obey_our_own_rules(tmp_path, seed):
    """The random plant, and random rows of a kind of ours with links, are ones that a register takes."""
    rows = random_plant(Random(seed))
    rows["tests"] = random_rows(BUILT_IN_KINDS["snags"], rows, Random(seed))
    reg = fibrebook.create(tmp_path / "register")
    with reg.edit(by="ts", why="random") as edit:
        for kind in BUILT_IN_KINDS:
            if kind in rows and kind != "tests":
                edit.put(kind, rows[kind])
        edit.put("snags", rows["tests"])
    assert len(reg.table("snags")) == len(rows["tests"]) > 0
    assert random_plant(Random(seed)) == random_plant(Random(seed))
