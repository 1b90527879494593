"""Make the register of format 2 that is kept beside this file: python tests/registers/format_2/make.py

Two sites of invented data over fourteen commits, a removal and an undo among them, the first eight of them in packs.
It is made once, by the fibrebook that first wrote the format, and never again: a later one must read what that one wrote.
"""

from __future__ import annotations

import json
from pathlib import Path

from fibrebook.register import create, open
from fibrebook.register.care import packing

FOLDER = Path(__file__).parent


def main() -> None:
    """Write the register, and what it answers at some of its commits."""
    packing.EACH, packing.LOOSE = 8, 4
    reg = create(FOLDER / "register", name="Kept of format 2")
    with reg.edit("ab", "survey") as edit:
        edit.put("sites", [{"site": "S1", "name": "Mill"}, {"site": "S2", "name": "Höhe/2"}])
        edit.put("enclosures", [{"site": "S1", "enclosure": e} for e in ("P1", "P2")])
        edit.put("cables", [{"site": "S1", "cable": "C1", "core_count": 12, "a_enclosure": "P1", "b_enclosure": "P2"}])
        edit.put("ports", [{"site": "S1", "enclosure": "P1", "port": n} for n in (1, 2)])
    with reg.edit("ab", "made off") as edit:
        edit.put("terminations", [{"site": "S1", "enclosure": "P1", "port": 1, "cable": "C1", "core": 1}])
    for n in range(3, 12):
        with reg.edit("cd", f"visit {n}") as edit:
            edit.put("sites", [{"site": "S2", "notes": f"visit {n}"}])
            edit.put("snags", [{"site": "S1", "snag": str(n), "what": "open"}])
    with reg.edit("cd", "put right") as edit:
        edit.remove("snags", [("S1", "5")])
    reg.undo(12, "ab", "it was not")
    with reg.edit("ab", "longer") as edit:
        edit.put("cables", [{"site": "S1", "cable": "C1", "length_m": 120.5}])
    packing.pack_old(reg._store, 0)
    told = {}
    for at in (1, 2, 8, 12, 14):
        tables = open(reg.where, at=at).tables()
        rows = {
            n: [{k: str(v) for k, v in r.items() if v not in (None, "")} for r in t.to_pylist()]
            for n, t in tables.items()
        }
        told[str(at)] = {n: r for n, r in rows.items() if r}
    (FOLDER / "expected.json").write_text(json.dumps(told, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
