"""Every public analysis answers as it did: on the demo register and on 200 random plants, column by column.

The digests stand in `golden/answers.json`. Where an answer is to change, renew them and look at what changed:

    FIBREBOOK_PLUGINS= python tests/test_answers_kept.py

and say in the commit which answers changed and why. An answer may change where two answers disagreed, or was wrong.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import sys
import tempfile
from collections import defaultdict
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parent))

from lit_plants import firm_rows, lit_plant
from plants import put_all

import fibrebook
from fibrebook.analyses.paths.panel_and_tray import panel_rows, tray_rows
from fibrebook.analyses.spare.site_schematic import site_cables, site_places
from fibrebook.cli.which import look_up
from fibrebook.errors import FibrebookError

KEPT = Path(__file__).parent / "golden" / "answers.json"
DEMO = Path(__file__).parents[1] / "data" / "demo"
TODAY = dt.date(2026, 1, 15)
BATCHES, PLANTS = 4, 50  # plants in each batch; every second batch is a firm's with values of its own
STARTS = {
    "demo": 1,
    "demo at length": 3,
}  # starts of each sort at each site; of every third random plant one, at its first site
Register = fibrebook.Register

WHOLE: dict[str, Callable[[Register], pd.DataFrame]] = {
    "acceptance": fibrebook.acceptance,
    "acceptance TIA": lambda reg: fibrebook.acceptance(reg, style="TIA-568.3"),
    "advice": lambda reg: fibrebook.advice(reg, today=TODAY),
    "cross_reference": fibrebook.cross_reference,
    "failed_tests": fibrebook.failed_tests,
    "headroom": fibrebook.headroom,
    "in_use_by_year": lambda reg: fibrebook.in_use_by_year(reg, today=TODAY),
    "loss_spread": fibrebook.loss_spread,
    "polarity": fibrebook.polarity,
    "room_for": fibrebook.room_for,
    "spare by core": lambda reg: fibrebook.spare(reg, by="core"),
    "spare by cable": lambda reg: fibrebook.spare(reg, by="cable"),
    "spare by site": fibrebook.spare,
    "spare_growth": lambda reg: fibrebook.spare_growth(reg, today=TODAY),
    "splice_chart": fibrebook.splice_chart,
    "splice_quality": fibrebook.splice_quality,
    "splice_readings": fibrebook.splice_readings,
    "untested": fibrebook.untested,
}


def of_sites(reg: Register, most: int, sites: list[str]) -> Iterator[tuple[str, pd.DataFrame]]:
    """Give the answers that are asked for one site, or for one thing at a site; an error is an answer too."""
    for site in sites:
        labels = {kind: table.to_pylist() for kind, table in reg.tables(site).items()}
        ask = partial(_told, reg, site)
        yield "schematic places", ask(site_places)
        yield "schematic cables", ask(site_cables)
        places = [row["enclosure"] for row in labels["enclosures"]][:most]
        for place in places:
            yield "panel_rows", ask(panel_rows, place)
            yield "tray_rows", ask(tray_rows, place)
            yield "goes_dark", ask(fibrebook.goes_dark, ("enclosure", place))
        if len(places) > 1:
            yield "spare_between", ask(fibrebook.spare_between, places[0], places[1])
            yield "spare_routes", ask(fibrebook.spare_routes)
        channels = [row["channel"] for row in labels["channels"]][:most]
        for channel in channels:
            yield "contributions", ask(fibrebook.contributions, ("channel", channel))
            yield "contributions", ask(fibrebook.contributions, ("channel", channel, "b to a"), wavelength_nm=1310.0)
            yield "what_if", ask(fibrebook.what_if, channel, "1000BASE-SX", splices=2)
            yield "what_if", ask(fibrebook.what_if, channel, None, connections=1)
            yield "loss_by_lots", ask(fibrebook.loss_by_lots, channel, trials=50)
        if channels:
            yield "shared_by_dead", ask(fibrebook.shared_by_dead, channels)
            yield "would_run", ask(fibrebook.would_run, ("channel", channels[0]))
        for start in _starts(labels, most):
            yield f"trace from a {start[0]}", ask(fibrebook.trace, start)
            yield "goes_dark", ask(fibrebook.goes_dark, start)
            yield "which", _which(reg, site, start)
            if start[0] != "interface":
                yield "locate", ask(fibrebook.locate, start, 37.0)
        if len(site) % 2:
            yield "would_run", ask(fibrebook.would_run, _starts(labels, 1)[0])


def _starts(labels: dict[str, list[dict]], most: int) -> list[tuple]:
    cores = [("core", row["cable"], 1 + i % row["core_count"]) for i, row in enumerate(labels["cables"])]
    ports = [("port", r["enclosure"], r["port"], r["position"] or "") for r in labels["ports"]]
    faces = [("interface", r["equipment"], r["interface"], r["position"]) for r in labels["interfaces"]]
    return [*cores[:most], *ports[: 2 * most : 2], *faces[:most]]


def _told(reg: Register, site: str, answer: Callable[..., pd.DataFrame], *given, **named) -> pd.DataFrame:
    try:
        return answer(reg, site, *given, **named)
    except FibrebookError as error:
        return pd.DataFrame({"error": [f"{type(error).__name__}: {error}"]})


def _which(reg: Register, site: str, start: tuple) -> pd.DataFrame:
    try:
        found = look_up(reg, site, [str(part) for part in start if part != ""])["found"]
    except FibrebookError as error:
        return pd.DataFrame({"error": [f"{type(error).__name__}: {error}"]})
    return pd.DataFrame(
        {key: [json.dumps(one[key]) for one in found] for key in ("start", "reaches", "state", "channel")}
    )


def answers(name: str, where: Path) -> dict[str, dict[str, str]]:
    """Make a register and return a digest of each column of each answer."""
    reg = REGISTERS[name](where)
    sites = [s for s in reg.sites() if name in STARTS or (s.endswith(" S1") and int(s.split()[0]) % 3 == 0)]
    kept: dict[str, dict[str, hashlib._Hash]] = defaultdict(lambda: defaultdict(hashlib.sha256))
    for analysis, answer in WHOLE.items():
        _keep(kept[analysis], answer(reg))
    for analysis, frame in of_sites(reg, STARTS.get(name, 1), sites):
        _keep(kept[analysis], frame)
    return {name: {c: h.hexdigest()[:12] for c, h in columns.items()} for name, columns in kept.items()}


def _keep(columns: dict[str, hashlib._Hash], frame: pd.DataFrame) -> None:
    for name in frame.columns:
        columns[name].update("\x1f".join(map(_text, frame[name].tolist())).encode() + b"\x1e")


def _text(value: object) -> str:
    """A value in words that do not depend on the last bit of a sum or on the machine."""
    if value is None or value is pd.NaT or value is pd.NA or (isinstance(value, float) and np.isnan(value)):
        return ""
    if isinstance(value, float):
        return f"{round(value, 7) + 0.0:g}" if abs(value) < 1e-4 else f"{round(value, 7):.12g}"
    return str(value)


def demo(where: Path) -> Register:
    """The demo register."""
    from fibrebook.demo import make_demo

    make_demo(where)
    return fibrebook.open(where)


def plants(where: Path, batch: int) -> Register:
    """A register of one batch of random plants."""
    rows: dict[str, list[dict]] = defaultdict(list)
    for number in range(batch * PLANTS, (batch + 1) * PLANTS):
        for kind, some in lit_plant(number, prefix=f"{number} ").items():
            rows[kind] += some
    reg = fibrebook.create(where, name="plants")
    put_all(reg, {**rows, **(firm_rows() if batch % 2 else {})})
    return reg


REGISTERS: dict[str, Callable[[Path], Register]] = {
    "demo": demo,
    "demo at length": demo,
    **{f"plants {b}": lambda where, b=b: plants(where, b) for b in range(BATCHES)},  # type: ignore[misc]
}


SHORT = ("demo", "plants 0", "plants 1")


@pytest.mark.parametrize("name", [n if n in SHORT else pytest.param(n, marks=pytest.mark.long) for n in REGISTERS])
def test_every_analysis_answers_as_it_did(name, tmp_path):
    """No column of any public analysis changes unless its digest was renewed on purpose (see above how)."""
    kept = json.loads(KEPT.read_text())[name]
    found = answers(name, tmp_path / "r")
    differ = [f"{a}: {c}" for a in found for c in found[a] if kept.get(a, {}).get(c) != found[a][c]]
    differ += [f"{a}: {c} is gone" for a in kept for c in kept[a] if c not in found.get(a, {})]
    assert not differ


def main() -> None:
    """Write the digests anew and name those that changed."""
    before = json.loads(KEPT.read_text()) if KEPT.exists() else {}
    now = {}
    for name in REGISTERS:
        with tempfile.TemporaryDirectory() as folder:
            now[name] = answers(name, Path(folder) / "r")
        for analysis, columns in now[name].items():
            old = before.get(name, {}).get(analysis, {})
            changed = [c for c in columns if old.get(c) != columns[c]] + [f"{c} gone" for c in old if c not in columns]
            if changed:
                print(f"{name}: {analysis}: {', '.join(changed)}")
    KEPT.write_text(json.dumps(now, indent=0, sort_keys=True) + "\n")


if __name__ == "__main__":
    main()
