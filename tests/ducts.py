"""A register with a plugin's kind of record in it (the example package's ducts) and its column of cables, with the plugin there and without."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

import fibrebook
from fibrebook import plugins
from fibrebook.reference import tables as reference


def put(reg: fibrebook.Register, table: str, by: str = "ab", why: str = "change", **row: Any) -> int | None:
    """Put one row in one commit; return its number."""
    with reg.edit(by, why) as edit:
        edit.put(table, [row])
    return edit.commit


@contextmanager
def door(names: str) -> Iterator[None]:
    """Have exactly these plugins at the door, for as long as the block lasts."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FIBREBOOK_PLUGINS", names)
        plugins.manager.cache_clear()
        reference.forget()
        try:
            yield
        finally:
            patch.undo()
            plugins.manager.cache_clear()
            reference.forget()


def with_ducts() -> Any:
    """The example plugin is there."""
    return door("example")


def without() -> Any:
    """No plugin is there."""
    return door("")


def make(where: Path) -> fibrebook.Register:
    """Two sites, each with places, a panel at both, a cable, and ducts; one commit, then one more to a duct."""
    reg = fibrebook.create(where, name="Ducts")
    with reg.edit("ab", "set up") as edit:
        for site in ("Mill", "Barn"):
            edit.put("sites", [{"site": site, "contact": "gatekeeper"}])
            edit.put("locations", [{"site": site, "location": n} for n in ("hall", "loft", "yard")])
            edit.put(
                "enclosures",
                [{"site": site, "enclosure": e, "location": n} for e, n in (("P1", "hall"), ("P2", "loft"))],
            )
            edit.put("cables", [{"site": site, "cable": c, "a_enclosure": "P1", "b_enclosure": "P2", "core_count": 12,
                                "drum": f"{site}/{c}"} for c in ("C1", "C2")])  # fmt: skip
            edit.put("ducts", [
                {"site": site, "duct": "D1", "a_location": "hall", "b_location": "loft", "cable": "C1", "inside_mm": 50,
                 "cable_count": 1, "made_of": "plastic", "sealed": True, "seen_on": "2026-03-31", "owner": "neighbour"},
                {"site": site, "duct": "D2", "a_location": "hall"},
            ])  # fmt: skip
    put(reg, "ducts", "cd", "measured", site="Mill", duct="D2", inside_mm=32.5)
    return reg


def duct_files(where: Path, refs: Any = None) -> dict[str, bytes]:
    """The segments of the table, all that are there or those that a state names: path -> bytes."""
    paths = (where / "tables" / "ducts").iterdir() if refs is None else [where / r.file for r in refs]
    return {p.name: p.read_bytes() for p in paths}


def newest(reg: fibrebook.Register) -> list[dict[str, Any]]:
    """All ducts as they stand."""
    return sorted(reg.arrow("ducts").to_pylist(), key=lambda r: (r["site"], r["duct"]))
