"""Relabelling: a new label on a record, carried into every row that refers to it."""

from __future__ import annotations

import unicodedata
from typing import Any

import numpy as np
import pyarrow.compute as pc

from fibrebook.errors import InputError, NotFoundError, RuleError
from fibrebook.records.kinds.built_in import KINDS, referring_to
from fibrebook.records.kinds.declared import Kind
from fibrebook.records.values.one_value import as_label
from fibrebook.records.values.to_columns import convert_column
from fibrebook.register.commits.working_copy import WorkingCopy
from fibrebook.words.matching import repeated

Labels = dict[str, str]  # key column -> label


def relabel(draft: WorkingCopy, kind: Kind, site: Any, old: Any, new: Any) -> None:
    """Relabel one record (or all that share the given first labels) and what refers to it, in the draft."""
    if kind.name == "sites":
        _relabel_site(draft, _there(old), _label(kind, "site", new))
        return
    if kind.scope == "firm" or any(kind.by_name[k].type not in ("label", "text") for k in kind.own_key):
        raise InputError(f"{kind.name} have no label of their own to change")
    at = _there(site)
    was, becomes = _labels(kind, old, there=True), _labels(kind, new)
    if set(was) != set(becomes):
        raise InputError(f"old and new must have the same parts of ({', '.join(kind.own_key)})")
    table = draft.rows(kind, [at])
    mask = _matching(table, at, was)
    if not mask.any():
        raise NotFoundError(f"there is no {kind.singular} {_text(was)!r} at site {at!r}")
    shared = {n: bool((_matching(table, at, _first(was, n)) & ~mask).any()) for n in range(1, len(was) + 1)}
    _carry(draft, kind, at, was, becomes, shared)
    twice = repeated([draft.mine[kind.name][k] for k in kind.key])
    if len(twice):
        raise RuleError(f"there is a {kind.singular} {_text(becomes)!r} at site {at!r} already; nothing was relabelled")


def _carry(
    draft: WorkingCopy,
    kind: Kind,
    site: str,
    was: Labels,
    becomes: Labels,
    shared: dict[int, bool] | None = None,
    done: frozenset[tuple[str, str]] = frozenset(),
) -> None:
    """Write the new labels in the kind itself and, link by link, in all that name it.

    shared : for each number of first labels, whether rows that keep the old ones share them
    done : the kinds and columns on the way here; kinds of plugins may name each other in a ring
    """
    if {(kind.name, c) for c in was} <= done:
        return
    done |= {(kind.name, c) for c in was}
    _write(draft, kind, site, was, becomes)
    for other, link in referring_to(kind.name):
        pairs = [(k, c) for k, c in zip(kind.own_key, link.columns, strict=False) if k in was]
        if len(pairs) < len(was) and shared and shared.get(len(pairs)):
            continue  # the link names a group (an interface, say) of which other rows keep the old label
        if not pairs:
            continue  # none of the changed labels is among those that the link names
        named, renamed = {c: was[k] for k, c in pairs}, {c: becomes[k] for k, c in pairs}
        if all(c in other.key for c in named):  # part of the other's own key: what names that must follow too
            _carry(draft, other, site, named, renamed, done=done)
        else:
            _write(draft, other, site, named, renamed)


def _write(draft: WorkingCopy, kind: Kind, site: str, was: Labels, becomes: Labels) -> None:
    mask = _matching(draft.rows(kind, [site]), site, was)
    if mask.any():
        for column, label in becomes.items():
            if column in was and was[column] != label:
                draft.replace(kind, column, mask, label)


def _relabel_site(draft: WorkingCopy, old: str, new: str) -> None:
    if not draft.rows(KINDS["sites"], [old]).num_rows or not _matching(draft.mine["sites"], old, {}).any():
        raise NotFoundError(f"there is no site {old!r}")
    if _matching(draft.rows(KINDS["sites"], [new]), new, {}).any():
        raise RuleError(f"there is a site {new!r} already; nothing was relabelled")
    for kind in KINDS.values():
        if kind.scope == "site":
            mask = _matching(draft.rows(kind, [old, new]), old, {})
            draft.replace(kind, "site", mask, new)


def _matching(table: Any, site: str, labels: Labels) -> np.ndarray[Any, Any]:
    mask = pc.equal(table["site"], site)
    for column, label in labels.items():
        mask = pc.and_(mask, pc.equal(table[column].fill_null(""), label))  # a blank position: "" in keys, else null
    return np.asarray(mask.to_numpy())


def _first(labels: Labels, count: int) -> Labels:
    return dict(list(labels.items())[:count])


def _labels(kind: Kind, value: Any, there: bool = False) -> Labels:
    parts = list(value) if isinstance(value, tuple | list) else [value]
    least = 1 if len(kind.own_key) == 1 else 2
    if not least <= len(parts) <= len(kind.own_key):
        raise InputError(f"name a {kind.singular} by ({', '.join(kind.own_key)}), not by {value!r}")
    return {k: _there(v) if there else _label(kind, k, v) for k, v in zip(kind.own_key, parts, strict=False)}


def _there(value: Any) -> str:
    """Return a label that the register may have, one that would be refused today too."""
    try:
        return unicodedata.normalize("NFC", "" if value is None else as_label(value))
    except ValueError as error:
        raise InputError(str(error)) from None


def _label(kind: Kind, column: str, value: Any) -> str:
    array, faults = convert_column(kind.by_name[column], [value], is_key=True)
    if faults:
        raise InputError(f"{column} {value!r} {faults[0][1]}: {faults[0][2]}")
    return str(array[0].as_py())


def _text(labels: Labels) -> str:
    return "/".join(v for v in labels.values() if v)
