"""Hard rules judge the change: what it brings is refused, what stood before is advice and hinders nothing else."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

import pytest
from hand_plant import Plant
from plants import put_all, tables_of

import fibrebook
from fibrebook import plugins
from fibrebook.errors import PluginError, Problem, RuleError
from fibrebook.plugins import HardRule
from fibrebook.records.rules import door
from fibrebook.records.rules.check import MOST, new_breaches

AT = "S1"


@pytest.fixture
def ruled() -> Iterator[Callable[..., None]]:
    """Give a function that puts a plugin with hard rules at the door; it is gone after the test."""
    put = []

    def rule(*rules: Any) -> None:
        parts = {"hard_rules": staticmethod(plugins.hookimpl(lambda: rules))}
        put.append(type("Firm", (), parts)())
        plugins.manager().register(put[-1], name=f"a firm's {len(put)}")

    yield rule
    for plugin in put:
        plugins.manager().unregister(plugin)


def said_short(tables: Mapping[str, Any]) -> Iterator[Problem]:
    """Refuse cables without a length."""
    for row in tables["cables"].to_pylist():
        if row["length_m"] is None:
            key = (row["site"], row["cable"])
            yield Problem(f"cables {row['cable']}", "has no length", "measure it", "cables", key, "length_m")


def small(tmp_path: Any) -> fibrebook.Register:
    """A register with three cables of no length."""
    reg = fibrebook.create(tmp_path / "register")
    plant = (
        Plant().panel("P1", 4).panel("P2", 4).cable("C1", "P1", "P2").cable("C2", "P1", "P2").cable("C3", "P1", "P2")
    )
    for row in plant.rows["cables"]:
        row["length_m"] = None
    put_all(reg, plant.rows)
    return reg


def test_a_rule_may_be_added_years_later(tmp_path, ruled):
    """Rows that stood before a rule hinder no other change, not even of themselves; new breaches are refused alone."""
    reg = small(tmp_path)
    ruled(HardRule("lengths", said_short, "Every cable has a length.", ("cables",)))
    with reg.edit(by="ts", why="a note on one that breaks it") as edit:
        edit.put("cables", [{"site": AT, "cable": "C1", "notes": "wet"}])
    with pytest.raises(RuleError, match="has no length") as caught, reg.edit(by="ts", why="another") as edit:
        edit.put("cables", [{"site": AT, "cable": "C4", "a_enclosure": "P1", "b_enclosure": "P2", "core_count": 2}])
    assert [p.key for p in caught.value.problems] == [(AT, "C4")]
    with reg.edit(by="ts", why="measured") as edit:
        edit.put("cables", [{"site": AT, "cable": "C1", "length_m": 30.0}])
    with pytest.raises(RuleError), reg.edit(by="ts", why="lost again") as edit:
        edit.put("cables", [{"site": AT, "cable": "C1", "length_m": None}])


def test_what_stood_before_is_advice(tmp_path, ruled):
    """Each older breach is one row of advice, with the rule's own words, until it is mended."""
    reg = small(tmp_path)
    assert fibrebook.advice(reg).query("check == 'hard rule'").empty
    ruled(HardRule("lengths", said_short, "Every cable has a length.", ("cables",)))
    told = fibrebook.advice(reg).query("check == 'hard rule'")
    assert told[["site", "table", "record", "what", "do"]].values.tolist() == [
        [AT, "cables", c, "has no length", "measure it"] for c in ("C1", "C2", "C3")
    ]
    with reg.edit(by="ts", why="measured") as edit:
        edit.put("cables", [{"site": AT, "cable": c, "length_m": 30.0} for c in ("C1", "C2", "C3")])
    assert fibrebook.advice(reg).query("check == 'hard rule'").empty


def cords(*pairs: tuple[str, str]) -> Mapping[str, Any]:
    """Tables of a panel with cords between its ports."""
    plant = Plant().panel("P1", 6)
    for a, b in pairs:
        plant.cord(("P1", a, "A"), ("P1", b, "A"))
    return tables_of(plant.rows)


def test_one_of_three_joints_may_be_taken_away():
    """What is joined twice by rows that all were there before is no new breach; by another row it is."""
    three = cords(("1", "2"), ("1", "3"), ("1", "4"))
    assert len(new_breaches(cords(), three, {"patches"})) == 1
    assert new_breaches(three, cords(("1", "2"), ("1", "3")), {"patches"}) == []
    assert len(new_breaches(cords(("1", "2"), ("1", "3")), three, {"patches"})) == 1


def test_another_wrong_value_in_the_same_row_is_new():
    """A link that led nowhere and now leads nowhere else was changed, so it is judged."""
    plant, other = (Plant().panel("P1", 2).cable("C1", "P1", to) for to in ("P8", "P9"))
    assert new_breaches(tables_of(plant.rows), tables_of(plant.rows), {"cables"}) == []
    assert [p.column for p in new_breaches(tables_of(plant.rows), tables_of(other.rows), {"cables"})] == ["b_enclosure"]


def test_a_new_breach_is_found_behind_a_thousand_old_ones(ruled):
    """More old breaches than are ever listed do not hide a new one."""

    def wide(n: int) -> Mapping[str, Any]:
        plant = Plant().panel("P1", 1)
        for i in range(n):
            plant.put("ports", enclosure="P9", port=str(i), position="")
        return tables_of(plant.rows)

    assert [p.key[2] for p in new_breaches(wide(MOST + 50), wide(MOST + 51), {"ports"})] == [str(MOST + 50)]


def test_a_rule_is_judged_where_any_kind_that_it_reads_changed(tmp_path, ruled):
    """A rule about ports that reads cables refuses a change of cables; it is not asked where only sites change."""
    asked = []

    def odd(tables: Mapping[str, Any]) -> Iterator[Problem]:
        asked.append(1)
        if tables["cables"].num_rows > 3:
            yield Problem("ports", "more cables than ports can take", "fit a panel", "ports", (AT, "P1", "1", "A"))

    reg = small(tmp_path)
    ruled(HardRule("room", odd, "", ("ports", "cables")))
    with reg.edit(by="ts", why="a name") as edit:
        edit.put("sites", [{"site": AT, "name": "Barn"}])
    assert not asked
    with pytest.raises(RuleError, match="more cables"), reg.edit(by="ts", why="one too many") as edit:
        edit.put("cables", [{"site": AT, "cable": "C4", "a_enclosure": "P1", "b_enclosure": "P2", "core_count": 2}])


@pytest.mark.parametrize("rule", [
    HardRule("x", "no_such_module:rule"), HardRule("x", "fibrebook.errors:no_rule"), HardRule("x", "words"),
    HardRule("x", 5), HardRule("x", lambda tables: 1 / 0), HardRule("x", lambda tables: ["text"]), 7,
])  # fmt: skip
def test_a_rule_that_breaks_refuses_the_save_and_names_the_plugin(tmp_path, ruled, rule):
    """A rule that is not there, breaks or gives what is no problem: nothing is saved by half a list."""
    reg = small(tmp_path)
    ruled(rule)
    with pytest.raises(PluginError, match="a firm's"), reg.edit(by="ts", why="a name") as edit:
        edit.put("sites", [{"site": AT, "name": "Barn"}])
    assert reg.table("sites")["name"].isna().all()


@pytest.mark.parametrize("rule", door.OUR_RULES, ids=lambda r: r.name)
def test_our_own_rules_are_declared_at_the_door(rule):
    """Each of ours has a sentence that says what it refuses, names code that is there and reads kinds that are."""
    assert rule.help.endswith(".") and callable(plugins.code(rule.run))
    assert set(rule.reads) <= set(fibrebook.records.KINDS)
