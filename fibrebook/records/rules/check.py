"""The hard rules: what may never stand in the register. A commit that brings a breach is refused whole.

A rule judges the change: breaches after it less those that stood before, by rule and rows. What stood before is no
reason to refuse another change, so that a rule can be added years later; it is told as advice.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from itertools import islice
from typing import Any

from fibrebook.errors import PluginError, Problem
from fibrebook.plugins import HardRule, code, gathered, name_of, note
from fibrebook.records.rules.breach import Judged, Tables
from fibrebook.records.rules.door import OUR_RULES

MOST = 1000  # problems listed at most: nobody reads more, and a wrong file may break one rule in each row
Record = tuple[str, tuple[Any, ...]]


def check(tables: Tables) -> list[Problem]:
    """Return every breach of our own hard rules in whole tables of some sites, MOST at the most.

    Parameters
    ----------
    tables : by kind, in declared columns; kinds left out count as empty; each site must be there whole (of cores only
        the rows that say something)

    Returns
    -------
    problems naming table, key, what is wrong and what to do; empty = the rules hold
    """
    return list(islice(_in_order(Judged(tables)), MOST))


def standing(judged: Judged, left_out: Collection[str] = ()) -> list[Problem]:
    """Return every breach of a rule at the door, ours or a plugin's, MOST at the most; a rule that breaks is noted.

    Parameters
    ----------
    left_out : names of rules that are not asked
    """
    out: list[Problem] = []
    for plugin, rule in rules_at_the_door():
        if rule.name in left_out:
            continue
        part = f"the hard rule {rule.name}"
        try:
            found = list(islice(_problems_of(plugin, rule, judged), MOST))
            note(plugin, part)
        except PluginError as error:
            note(plugin, part, error.message.removeprefix(f"plugin {plugin!r}: "))
            continue
        out += found
        if found and rule.stops:
            break
    return out[:MOST]


def new_breaches(before: Tables, after: Tables, changed: Collection[str]) -> list[Problem]:
    """Return the breaches that a change brings, MOST at the most; those that stood before are not among them.

    A breach stood before where the same rule was broken by the same rows, or by these and others: of three joints at
    one core end one may be taken away.

    Parameters
    ----------
    before, after : whole tables of the touched sites by name
    changed : names of the tables that are changed

    Raises
    ------
    PluginError : a plugin's rule broke; it names the plugin
    """
    return list(islice(_brought(Judged(before), after if isinstance(after, Judged) else Judged(after), changed), MOST))


def _brought(before: Judged, after: Judged, changed: Collection[str]) -> Iterator[Problem]:
    for plugin, rule in rules_at_the_door():
        if rule.reads and not set(rule.reads) & set(changed):
            continue
        stood: _Stood | None = None
        broken = False
        for problem in _problems_of(plugin, rule, after):
            if stood is None:
                stood = _Stood(_problems_of(plugin, rule, before))
            broken = True
            if problem not in stood:
                yield problem
        if broken and rule.stops:
            return


class _Stood:
    """The breaches that stood before, by what was broken and by each of the rows that broke it."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self._found: dict[tuple[str, str, Record], list[set[Record]]] = {}
        for p in problems:
            rows = _rows(p)
            for record in rows:
                self._found.setdefault((p.breach or p.what, p.column, record), []).append(rows)

    def __contains__(self, problem: Problem) -> bool:
        at = (problem.breach or problem.what, problem.column, (problem.table, problem.key))
        return any(_rows(problem) <= rows for rows in self._found.get(at, ()))


def _rows(problem: Problem) -> set[Record]:
    return {(problem.table, problem.key), *problem.also}


def rules_at_the_door() -> list[tuple[str, HardRule]]:
    """Return (plugin, rule) of every hard rule, ours first. A bare function is a rule that reads any kind.

    What is no rule is left out and noted; nothing is saved meanwhile.
    """
    found = []
    for plugin, given in gathered("hard_rules"):
        for rule in given:
            if not isinstance(rule, HardRule) and not callable(rule):
                note(plugin, "hard_rules", f"its hard_rules give {rule!r}, which is no HardRule")
                continue
            found.append((plugin, rule if isinstance(rule, HardRule) else HardRule(name_of(rule), rule)))
    return found


def _in_order(judged: Judged) -> Iterator[Problem]:
    for rule in OUR_RULES:
        broken = False
        for problem in _problems_of("fibrebook", rule, judged):
            broken = True
            yield problem
        if broken and rule.stops:
            return


def _problems_of(plugin: str, rule: HardRule, judged: Judged) -> Iterator[Problem]:
    """Give a rule's problems one by one; where it breaks, its plugin is named."""
    try:
        for problem in code(rule.run)(judged):
            if not isinstance(problem, Problem):
                raise TypeError(f"it gives {problem!r} where a Problem is wanted")
            yield problem
    except Exception as error:
        told = f"{type(error).__name__}: {error}"
        raise PluginError(f"plugin {plugin!r}: the hard rule {name_of(rule.run)} broke: {told}") from error
