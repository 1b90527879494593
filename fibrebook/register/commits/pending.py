"""Edits that met a conflict, kept whole until somebody decides."""

from __future__ import annotations

import contextlib
import json
import re
import uuid
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from fibrebook.errors import ConflictError, DamagedError, FibrebookError, InputError, NotFoundError
from fibrebook.register.commits import history
from fibrebook.register.commits.decisions import SIDES
from fibrebook.register.commits.proposal import Proposal
from fibrebook.register.places.asked import Blobs, Missing
from fibrebook.register.row_files.columns_stored import stored_kinds
from fibrebook.register.row_files.cores import saying
from fibrebook.register.row_files.merge import Choices, Conflict
from fibrebook.register.store.shape import pending_faults
from fibrebook.register.store.state import Json, digest_checked, utc_text, with_digest

if TYPE_CHECKING:
    import pandas as pd

FRAME = ("table", "key", "column", "base", "theirs", "mine")


def keep(blobs: Blobs, proposal: Proposal, error: ConflictError) -> str:
    """Write a proposal that met a conflict to a file of its own; return its name."""
    when = utc_text()
    who = re.sub(r"[^A-Za-z0-9]", "", proposal.by)[:20] or "x"
    name = f"{re.sub('[^0-9TZ]', '', when)}-{who}-{uuid.uuid4().hex[:8]}"
    content = {
        "base": proposal.based_on,
        "by": proposal.by,
        "why": proposal.why,
        "what": proposal.what,
        "kept_utc": when,
        "reasons": [str(p) for p in error.problems],
        "tables": {n: _rows(proposal, n) for n in proposal.mine},
        **({"unsure": True} if proposal.unsure else {}),
    }
    blobs.create(f"pending/{name}.json", with_digest(content))
    return name


def kept(blobs: Blobs, proposal: Proposal, error: ConflictError, name: str | None = None) -> ConflictError:
    """Keep a proposal (unless it is kept under `name` already); return the error to raise, which says how to go on."""
    try:
        name = name or keep(blobs, proposal, error)
    except (OSError, FibrebookError) as refused:
        return ConflictError(
            f"{error.message}. The edit could not be kept either: {refused}",
            error.problems,
            conflicts_frame(error.conflicts or []),
        )
    return ConflictError(
        f"{error.message}. The edit is kept as {name!r}: look at reg.pending(), then "
        f"reg.pending_resolve({name!r}, choices) or reg.pending_drop({name!r})",
        error.problems,
        conflicts_frame(error.conflicts or []),
        name,
    )


def _rows(proposal: Proposal, name: str) -> Json:
    """What a proposal puts and removes in one table, self-contained."""
    kind = stored_kinds(proposal.columns)[name]
    mine = saying(proposal.mine[name]) if name == "cores" else proposal.mine[name]
    put: dict[str, Json] = {}
    remove: dict[str, list[Any]] = {}
    for entry in history.changes(kind, proposal.before[name], mine).to_pylist():
        key = json.loads(entry["key"])
        if entry["op"] == "removed":
            remove[entry["key"]] = key
            continue
        row = put.setdefault(entry["key"], dict(zip(kind.key, key, strict=True)))
        if entry["column"] is not None:
            row[entry["column"]] = None if entry["after"] is None else json.loads(entry["after"])
    return {"put": list(put.values()), "remove": list(remove.values())}


def names(blobs: Blobs) -> list[str]:
    """Names of the kept edits, oldest first."""
    return [n.removesuffix(".json") for n in blobs.list("pending") if n.endswith(".json")]


def load(blobs: Blobs, name: str) -> Json:
    """Return a kept edit."""
    if not re.fullmatch(r"[A-Za-z0-9-]+", name):
        raise NotFoundError(f"there is no kept edit {name!r}; look at reg.pending()")
    try:
        content = digest_checked(blobs.read(f"pending/{name}.json"))
    except Missing:
        raise NotFoundError(f"there is no kept edit {name!r}; look at reg.pending()") from None
    wrong = ["it is not what was written"] if content is None else pending_faults(content)
    if content is None or wrong:
        raise DamagedError(
            f"the kept edit {name!r} is damaged ({', '.join(wrong)}): restore pending/{name}.json from a copy, "
            "or drop it"
        )
    return content


def drop(blobs: Blobs, name: str) -> None:
    """Remove a kept edit."""
    with contextlib.suppress(DamagedError):  # a damaged one can still be thrown away
        load(blobs, name)
    blobs.delete(f"pending/{name}.json")


def frame(blobs: Blobs) -> pd.DataFrame:
    """One row a kept edit: name, kept_utc, by, why, base, rows, reasons."""
    import pandas as pd

    columns = ("name", "kept_utc", "by", "why", "base", "rows", "reasons")
    rows = []
    for name in names(blobs):
        c = load(blobs, name)
        size = sum(len(t["put"]) + len(t["remove"]) for t in c["tables"].values())
        rows.append((name, c["kept_utc"], c["by"], c["why"], c["base"], size, "\n".join(c["reasons"])))
    found = pd.DataFrame(rows, columns=list(columns))
    found["kept_utc"] = pd.to_datetime(found["kept_utc"], utc=True)
    return found


def conflicts_frame(conflicts: Sequence[Conflict]) -> pd.DataFrame:
    """One row a conflict, numbered from 0: table, key, column ("" = the whole row), base, theirs, mine."""
    import pandas as pd

    rows = [(c.table, c.key, c.column, c.base, c.theirs, c.mine) for c in conflicts]
    return pd.DataFrame(rows, columns=list(FRAME), dtype=object)


def decided(conflicts: Sequence[Conflict], choices: Any) -> Choices:
    """Return choices by (table, key, column).

    Parameters
    ----------
    choices : "mine" or "theirs" for all, a list with one for each conflict, or a dict by the conflict's number
        (its row in the ConflictError's `conflicts`) or by (table, key, column)
    """
    if choices is None:
        return {}
    if isinstance(choices, str):
        choices = [choices] * len(conflicts)
    items = choices.items() if isinstance(choices, Mapping) else enumerate(choices)
    found = {}
    for which, side in items:
        if side not in SIDES:
            raise InputError(f"{side!r} is no choice; write 'mine' or 'theirs'")
        if isinstance(which, tuple) and len(which) == 3:
            found[(which[0], tuple(which[1]), which[2] or "")] = side
        elif isinstance(which, int) and 0 <= which < len(conflicts):
            c = conflicts[which]
            found[(c.table, c.key, c.column)] = side
        else:
            raise NotFoundError(f"there is no conflict {which!r}; there are {len(conflicts)}, numbered from 0")
    return found
