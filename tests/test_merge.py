"""Three-way merge by row and column, against a plain oracle and against its own promises."""

from __future__ import annotations

import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fibrebook.records import KINDS
from fibrebook.register.commits.history import changes
from fibrebook.register.row_files.merge import merge

KIND = KINDS["enclosures"]
CELLS = ("location", "trays", "notes")
Row = dict[str, object]
Rows = dict[str, Row]

cell = st.sampled_from([None, 1, 2])
row = st.fixed_dictionaries(dict.fromkeys(CELLS, cell))
state = st.dictionaries(st.sampled_from(list("ABCDE")), row, max_size=5)
change = st.one_of(
    st.tuples(st.just("set"), st.sampled_from(list("ABCDE")), st.sampled_from(CELLS), cell),
    st.tuples(st.just("remove"), st.sampled_from(list("ABCDE"))),
    st.tuples(st.just("add"), st.sampled_from(list("ABCDE")), row),
)
script = st.lists(change, max_size=6)


def run(rows: Rows, steps: list) -> Rows:
    """Apply a script to a state."""
    out = {k: dict(v) for k, v in rows.items()}
    for step in steps:
        if step[0] == "set" and step[1] in out:
            out[step[1]][step[2]] = step[3]
        elif step[0] == "remove":
            out.pop(step[1], None)
        elif step[0] == "add" and step[1] not in out:
            out[step[1]] = dict(step[2])
    return out


def table(rows: Rows) -> pa.Table:
    """Return a state as an Arrow table in plain text."""
    text = lambda v: None if v is None else f"v{v}"  # noqa: E731
    full = [
        {
            "site": "S",
            "enclosure": k,
            "location": text(v["location"]),
            "trays": v["trays"],
            "notes": text(v["notes"]),
        }
        for k, v in rows.items()
    ]
    return pa.Table.from_pylist([{n: r.get(n) for n in KIND.names} for r in full], schema=KIND.schema)


def content(merged: pa.Table) -> dict[str, Row]:
    """Return a table as rows by enclosure."""
    return {r["enclosure"]: r for r in merged.to_pylist()}


def oracle(base: Rows, mine: Rows, theirs: Rows) -> tuple[Rows, set[tuple[str, str]]]:
    """The rules in plain words, row by row; conflicts as (key, column), "" for the whole row."""
    out: Rows = {}
    conflicts: set[tuple[str, str]] = set()
    blank = dict.fromkeys(CELLS)
    for key in {*base, *mine, *theirs}:
        b, m, t = base.get(key), mine.get(key), theirs.get(key)
        if m is not None and t is not None:
            old = b or blank
            out[key] = {}
            for c in CELLS:
                if m[c] != old[c] and t[c] != old[c] and m[c] != t[c]:
                    conflicts.add((key, c))
                out[key][c] = m[c] if m[c] != old[c] and t[c] == old[c] else t[c]
        elif b is None:
            out[key] = dict(m or t or {})
        elif m is None and t is not None and t != b:
            conflicts.add((key, ""))
            out[key] = t
        elif t is None and m is not None and m != b:
            conflicts.add((key, ""))
    return out, conflicts


@settings(max_examples=100, deadline=None)
@given(state, script, script)
def test_merge_is_what_the_rules_say(base, mine, theirs):
    """Cells, rows and conflicts come out as a plain row-by-row reading of the rules gives them."""
    m, t = run(base, mine), run(base, theirs)
    merged, conflicts = merge(table(base), table(m), table(t), KIND)
    expected, clashes = oracle(base, m, t)
    assert content(merged) == content(table(expected))
    assert {(c.key[1], c.column) for c in conflicts} == clashes
    assert merged.schema.equals(KIND.schema)


@settings(max_examples=100, deadline=None)
@given(state, script, script)
def test_without_conflict_merging_is_applying_one_after_another(base, mine, theirs):
    """My changed cells written onto their state give the merged state, and so do theirs onto mine."""
    m, t = run(base, mine), run(base, theirs)
    merged, conflicts = merge(table(base), table(m), table(t), KIND)
    if conflicts:
        return
    for ahead, then in ((m, t), (t, m)):
        out = {k: dict(v) for k, v in ahead.items()}
        for key in {*base, *then}:
            old, new = base.get(key), then.get(key)
            if new is None:
                out.pop(key, None)
            elif old is None:
                here = out.setdefault(key, dict.fromkeys(CELLS))
                here.update({c: v for c, v in new.items() if v is not None})
            elif key in out:
                out[key].update({c: v for c, v in new.items() if v != old[c]})
        assert content(merged) == content(table(out))


@settings(max_examples=100, deadline=None)
@given(state, script, script)
def test_merging_twice_changes_nothing(base, mine, theirs):
    """Laying the same changes over the merged state again gives the merged state, without conflict."""
    m, t = run(base, mine), run(base, theirs)
    merged, conflicts = merge(table(base), table(m), table(t), KIND)
    if conflicts:
        return
    again, none = merge(table(base), table(m), merged, KIND)
    assert none == [] and again.equals(merged)


@settings(max_examples=100, deadline=None)
@given(state, script, script, st.sampled_from(["mine", "theirs"]))
def test_a_choice_settles_each_conflict(base, mine, theirs, side):
    """With a choice for each conflict none is left, and each cell holds the chosen side's value."""
    m, t = run(base, mine), run(base, theirs)
    _, conflicts = merge(table(base), table(m), table(t), KIND)
    choices = {(c.table, c.key, c.column): side for c in conflicts}
    merged, left = merge(table(base), table(m), table(t), KIND, choices)
    assert left == []
    found, chosen = content(merged), content(table(m if side == "mine" else t))
    for c in conflicts:
        key = c.key[1]
        if c.column:
            assert found[key][c.column] == chosen[key][c.column] == (c.mine if side == "mine" else c.theirs)
        else:
            assert (key in found) == (key in chosen)


@settings(max_examples=100, deadline=None)
@given(state, state)
def test_changes_lead_from_one_state_to_the_other(before, after):
    """Applying the listed changes to the state before gives the state after, and back again."""
    import json

    long = changes(KIND, table(before), table(after)).to_pylist()
    for start, goal, value, gone in (
        (table(before), table(after), "after", "removed"),
        (table(after), table(before), "before", "added"),
    ):
        out = content(start)
        for entry in long:
            key = json.loads(entry["key"])
            if entry["op"] == gone:
                out.pop(key[1], None)
                continue
            row = out.setdefault(key[1], dict.fromkeys(KIND.names) | {"site": key[0], "enclosure": key[1]})
            if entry["column"]:
                row[entry["column"]] = None if entry[value] is None else json.loads(entry[value])
        assert out == content(goal)


@pytest.mark.parametrize(
    ("mine", "theirs", "clashes"),
    [
        ({"trays": 2}, {"notes": 2}, []),
        ({"trays": 2}, {"trays": 2}, []),
        ({"trays": 2}, {"trays": None}, ["trays"]),
        (None, {"trays": 2}, [""]),
        ({"trays": 2}, None, [""]),
        (None, None, []),
    ],
)
def test_the_case_table(mine, theirs, clashes):
    """Other cells merge, the same value twice is no conflict, a different one or a removal against a change is."""
    base: Rows = {"A": {"location": 1, "trays": 1, "notes": 1}}
    make = lambda d: {} if d is None else {"A": {**base["A"], **d}}  # noqa: E731
    _, conflicts = merge(table(base), table(make(mine)), table(make(theirs)), KIND)
    assert [c.column for c in conflicts] == clashes
