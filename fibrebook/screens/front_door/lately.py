"""Which sites were lately looked at on this machine, or lately changed by anybody."""

from __future__ import annotations

import contextlib
import json
import os
from typing import Any

from fibrebook.bounded_json import bounded_json
from fibrebook.register import Register
from fibrebook.regular_files import read_regular
from fibrebook.screens.frame import drafts

MOST, MOST_BYTES = 8, 20_000
MANY = 6  # a commit that touched more sites than that was a list brought in, and no visit


def _path(reg: Register) -> Any:
    safe = "".join(c for c in reg.id if c.isalnum())[:40]
    return drafts.folder() / f"looked-at-{safe}.json"


def looked_at(reg: Register) -> list[str]:
    """Return the sites looked at on this machine, the latest first; none where that was not kept, or cannot be read."""
    try:
        kept = bounded_json(read_regular(_path(reg), MOST_BYTES))
    except (OSError, ValueError, RecursionError):
        return []
    return [s for s in kept if isinstance(s, str)][:MOST] if isinstance(kept, list) else []


def look_at(reg: Register, site: str) -> None:
    """Note that a site was looked at; where that cannot be kept, nothing is lost but its place in a list."""
    names = [site, *(s for s in looked_at(reg) if s != site)][:MOST]
    path = _path(reg)
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        fresh = path.with_suffix(f".{os.getpid()}-new")
        fresh.write_text(json.dumps(names), encoding="utf-8")
        fresh.replace(path)


def lately_used(reg: Register, most: int = MOST) -> list[str]:
    """Return sites: those looked at on this machine first, then those changed last, then by label."""
    there = reg.sites()
    changed: list[str] = []
    for named in reversed(reg.log()["sites"].tolist()):
        sites = [s for s in str(named).split(", ") if s]
        if len(sites) <= MANY:
            changed += sites
    known = set(there)
    return [s for s in dict.fromkeys([*looked_at(reg), *changed, *there]) if s in known][:most]
