"""Undo: the merge of "as it was before that commit" with the newest state."""

from __future__ import annotations

from fibrebook.errors import ConflictError, FibrebookError, InputError, NotFoundError
from fibrebook.register.commits import history, pending
from fibrebook.register.commits.commit import commit, lay_over
from fibrebook.register.commits.edit import Edit, required_text
from fibrebook.register.commits.proposal import Proposal, Store
from fibrebook.register.row_files.columns_stored import stored_kinds
from fibrebook.register.row_files.merge import Conflict
from fibrebook.register.row_files.site_rows import plain
from fibrebook.register.row_files.undeclared import refuse


def undo(store: Store, number: int, by: str, why: str) -> int:
    """Commit the reverse of commit `number` on top of the newest state; return the new number."""
    by, why = required_text(by, "by", "your initials"), required_text(why, "why", "a few words on what for")
    if number < 1:
        raise NotFoundError("there is no commit 0 to undo; the first is 1")
    about = store.log.commit(number)["changes"]
    refuse(about["tables"], f"commit {number} cannot be undone")
    after, before = store.log.state(number), store.log.state(number - 1)
    known = stored_kinds(after.columns)
    kinds = [known[n] for n in about["tables"]]
    proposal = Proposal(
        number, tuple(about["sites"]),
        {k.name: plain(store.reader.rows(after, k, about["sites"]), k) for k in kinds},
        {k.name: plain(store.reader.rows(before, k, about["sites"]), k) for k in kinds},
        by, why, "undo", columns=after.columns,
    )  # fmt: skip
    try:
        made = commit(store, proposal)
    except ConflictError as error:
        later = _in_the_way(store, number, error)
        raise ConflictError(
            f"commit {number} cannot be undone: commit {later} changed the same since; undo that first, "
            "or put the values right by hand",
            error.problems,
            pending.conflicts_frame(error.conflicts or []),
        ) from error
    if made is None:
        raise InputError(f"nothing of commit {number} is left to undo")
    return made


def _in_the_way(store: Store, number: int, error: ConflictError) -> int:
    """Return the newest later commit that changed a cell or row in conflict (else: that touched the same sites)."""
    conflicts: list[Conflict] = error.conflicts or []
    keys = {(c.table, c.key) for c in conflicts}
    sites = set(store.log.commit(number)["changes"]["sites"])
    newest = store.log.newest()
    touched = newest
    for later in range(newest, number, -1):
        about = store.log.commit(later)["changes"]
        if sites.isdisjoint(about["sites"]):
            continue
        touched = min(touched, later) if keys else later
        long = history.read_changes(store.log, store.log.commit(later))
        if not keys or keys & set(history.records_in(long)):
            return later
    return touched


def conflicts_now(store: Store, edit: Edit) -> list[Conflict]:
    """Return the conflicts that an edit would meet if it were committed now."""
    try:
        lay_over(store, edit.proposal(), store.log.state(store.log.newest()))
    except ConflictError as error:
        return list(error.conflicts or [])
    except FibrebookError:
        pass  # told when it is committed
    return []
