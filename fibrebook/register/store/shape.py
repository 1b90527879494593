"""Whether a file of the register has the parts that it must have, of the kinds that they must be.

Digests tell what was changed by accident; somebody with bad intent can make them fit, so the content is not trusted.
"""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

from fibrebook.errors import DamagedError
from fibrebook.register.places.asked import all_proper, proper
from fibrebook.register.store.state import FIRM_SEGMENT, Json

MOST = 2**62  # of a count; sums of some of them are whole numbers still
_SHA256 = re.compile(r"[0-9a-f]{64}")
_NUMBERED = re.compile(r"[0-9]{4}|[1-9][0-9]{4,8}")
_COLUMN = re.compile(r"[a-z][a-z0-9_]*")
_TABLE = re.compile(r"[a-z][a-z0-9_]{0,30}")  # as plugins may name one; it becomes a file's name


def commit_faults(content: Json, number: int) -> list[str]:
    """Return the parts of a commit file that are missing or of another kind."""
    wrong: list[str] = [n for n in ("time_utc", "made_utc", "rising_utc") if n in content and not _time(content[n])]
    wrong += [n for n in ("by", "why", "what", "previous_digest", "time_utc") if not isinstance(content.get(n), str)]
    wrong += [n for n, least in (("format", 1), ("based_on", 0)) if not _whole(content.get(n), least)]
    if not _whole(content.get("commit")) or content["commit"] != number:
        wrong.append("commit")
    if not _segments(content.get("segments"), True):
        wrong.append("segments")
    if not _homes(content.get("sites"), True):
        wrong.append("sites")
    if not _changes(content.get("changes")):
        wrong.append("changes")
    if "checkpoint" in content and not _checkpoint(content["checkpoint"]):
        wrong.append("checkpoint")
    if not _columns(content.get("columns", {})):
        wrong.append("columns")
    if "replaced" in content and not _replaced(content["replaced"]):
        wrong.append("replaced")
    if "origin" in content and not _origin(content["origin"]):
        wrong.append("origin")
    return sorted(set(wrong))


def pending_faults(content: Json) -> list[str]:
    """Return the parts of a kept edit that are missing or of another kind."""
    wrong = [n for n in ("by", "why", "what") if not (isinstance(content.get(n), str) and content[n].strip())]
    if not _time(content.get("kept_utc")):
        wrong.append("kept_utc")
    if not _whole(content.get("base")) or content["base"] < 0:
        wrong.append("base")
    reasons = content.get("reasons")
    if not isinstance(reasons, list) or not all(isinstance(r, str) for r in reasons):
        wrong.append("reasons")
    tables = content.get("tables")
    if not isinstance(tables, dict) or not all(_rows(t) for t in tables.values()):
        wrong.append("tables")
    return wrong


def _rows(table: Any) -> bool:
    if not isinstance(table, dict):
        return False
    put, remove = table.get("put"), table.get("remove")
    return (
        isinstance(put, list)
        and all(isinstance(row, dict) for row in put)
        and isinstance(remove, list)
        and all(isinstance(key, list) for key in remove)
    )


def _whole(value: Any, least: int = 0) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and least <= value < MOST


def _digest(value: Any) -> bool:
    return isinstance(value, str) and bool(_SHA256.fullmatch(value))


def _segment(value: Any) -> bool:
    """Whether it is the name of a segment; the next one is counted on from the last."""
    return isinstance(value, str) and (value == FIRM_SEGMENT or bool(_NUMBERED.fullmatch(value)))


def _time(value: Any) -> bool:
    try:
        return isinstance(value, str) and dt.datetime.fromisoformat(value).tzinfo is not None
    except ValueError:
        return False


def _path(value: Any) -> bool:
    try:
        return isinstance(value, str) and bool(proper(value))
    except DamagedError:
        return False


def _ref(value: Any) -> bool:
    if not isinstance(value, dict):
        return False
    return (
        _path(value.get("file"))
        and _digest(value.get("sha256"))
        and _whole(value.get("rows"))
        and _whole(value.get("bytes"))
    )


def _segments(value: Any, may_go: bool) -> bool:
    return isinstance(value, dict) and all(
        isinstance(files, dict)
        and bool(_TABLE.fullmatch(table))
        and all(_segment(name) and ((ref is None and may_go) or _ref(ref)) for name, ref in files.items())
        for table, files in value.items()
    )


def _homes(value: Any, may_go: bool) -> bool:
    return isinstance(value, dict) and all(
        (v is None and may_go) or (_segment(v) and v != FIRM_SEGMENT) for v in value.values()
    )


def _columns(value: Any) -> bool:
    """Whether it names columns that plugins add, each with its type, by table."""
    return isinstance(value, dict) and all(
        bool(_TABLE.fullmatch(table))
        and isinstance(types, dict)
        and all(bool(_COLUMN.fullmatch(n)) and isinstance(t, str) for n, t in types.items())
        for table, types in value.items()
    )


def _changes(value: Any) -> bool:
    if not isinstance(value, dict) or not _path(value.get("file")) or not _digest(value.get("sha256")):
        return False
    lists = [value.get("tables"), value.get("sites")]
    return _whole(value.get("rows")) and all(
        isinstance(names, list) and all(isinstance(n, str) for n in names) for names in lists
    )


def _checkpoint(value: Any) -> bool:
    return isinstance(value, dict) and _segments(value.get("segments"), False) and _homes(value.get("sites"), False)


def _replaced(value: Any) -> bool:
    """Whether it names files and what took their place; a tidying of many years names many thousands."""
    if not isinstance(value, dict) or not all_proper(value):
        return False
    return all(_ref(new) for new in value.values() if new is not None)


def _origin(value: Any) -> bool:
    commits = value.get("commits") if isinstance(value, dict) else None
    return isinstance(commits, list) and all(
        isinstance(c, dict) and _whole(c.get("commit"), 1) and isinstance(c.get("digest"), str) for c in commits
    )
