"""Headroom of 50,000 channels, two wavelengths, two directions: against a plain loop and against reading the rows."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from pytest import approx

from fibrebook.analyses.budgets.headroom import headroom_table
from fibrebook.records import KINDS
from fibrebook.snapshot.snapshot import PlantSnapshot

CHANNELS = 50_000
PER_SITE = 50
SECOND_NM = 1550.0  # beside the application's own 1310 nm


def many_channels(channels: int) -> dict[str, pa.Table]:
    """Tables of so many duplex channels, 50 a site: switch, cord, panel, cable, closure, cable, panel, cord, switch.

    Their application is not a published one, so each is weighed at both windows of its fibre.
    """
    site = np.repeat(np.arange(channels // PER_SITE), PER_SITE)
    nth = np.tile(np.arange(PER_SITE), channels // PER_SITE)
    sites = [f"S{i:05d}" for i in range(channels // PER_SITE)]
    two = np.repeat(np.arange(channels), 2)  # a row a strand
    side = np.tile(np.arange(2), channels)
    core = 2 * nth[two] + side + 1

    def coded(codes: np.ndarray, texts: list[str]) -> pa.Array:
        return pa.DictionaryArray.from_arrays(pa.array(codes.astype(np.int32)), pa.array(texts))

    def said(n: int, text: str) -> pa.Array:
        return coded(np.zeros(n, np.int64), [text])

    numbers = [str(i + 1) for i in range(2 * PER_SITE)]
    n, s = 2 * channels, len(sites)
    of_site, of_strand = coded(np.arange(s), sites), coded(site[two], sites)
    twice = coded(np.tile(np.arange(s), 2), sites)
    lengths = np.linspace(100, 4000, 2 * s)
    given: dict[str, dict[str, Any]] = {
        "sites": {"site": of_site},
        "enclosures": {
            "site": coded(np.tile(np.arange(s), 3), sites),
            "enclosure": coded(np.repeat(np.arange(3), s), ["P1", "J1", "P2"]),
        },
        "equipment": {"site": twice, "equipment": coded(np.repeat(np.arange(2), s), ["SW1", "SW2"])},
        "cables": {
            "site": twice, "cable": coded(np.repeat(np.arange(2), s), ["C1", "C2"]),
            "a_enclosure": coded(np.repeat(np.arange(2), s), ["P1", "J1"]),
            "b_enclosure": coded(np.repeat(np.arange(2), s), ["J1", "P2"]),
            "core_count": pa.array(np.full(2 * s, 2 * PER_SITE, np.int32)), "fibre_class": said(2 * s, "OS2"),
            "length_m": pa.array(lengths),
        },
        "splices": {
            "site": of_strand, "enclosure": said(n, "J1"), "tray": said(n, "1"), "slot": coded(core - 1, numbers),
            "a_cable": said(n, "C1"), "a_core": pa.array(core.astype(np.int32)), "b_cable": said(n, "C2"),
            "b_core": pa.array(core.astype(np.int32)), "method": said(n, "fusion"),
            "loss_db": pa.array(np.where(two % 3 == 0, np.nan, 0.01 * (two % 12)), from_pandas=True),
            "loss_basis": said(n, "estimated"),
        },
    }  # fmt: skip
    for end, (panel, cable) in enumerate((("P1", "C1"), ("P2", "C2"))):
        place = {
            "site": of_strand, "enclosure": said(n, panel), "port": coded(nth[two], numbers),
            "position": coded(side, ["A", "B"]),
        }  # fmt: skip
        made = place | {
            "cable": said(n, cable), "core": pa.array(core.astype(np.int32)), "method": said(n, "spliced pigtail"),
        }  # fmt: skip
        face = {
            "site": of_strand, "equipment": said(n, f"SW{end + 1}"), "interface": coded(nth[two], numbers),
            "position": coded(side, ["Tx", "Rx"]), "application": said(n, "two windows"),
            "launch_min_dbm": pa.array(np.full(n, -8.2)), "receive_min_dbm": pa.array(np.full(n, -14.4)),
        }  # fmt: skip
        turned = side if end == 0 else 1 - side
        cord = {
            "site": of_strand, "cord": coded(2 * nth[two] + end, numbers), "strand": coded(side, ["1", "2"]),
            "a_at": said(n, f"SW{end + 1}"), "a_port": coded(nth[two], numbers),
            "a_position": coded(side, ["Tx", "Rx"]),
            "b_at": said(n, panel), "b_port": coded(nth[two], numbers), "b_position": coded(turned, ["A", "B"]),
            "length_m": pa.array(np.full(n, 2.0)),
        }  # fmt: skip
        for kind, rows in (("ports", place), ("terminations", made), ("interfaces", face), ("patches", cord)):
            given.setdefault(kind, {c: [] for c in rows})
            for column, values in rows.items():
                given[kind][column].append(values)
    of_channel = coded(site, sites)
    given["channels"] = {
        "site": of_channel, "channel": coded(nth, numbers), "application": said(channels, "two windows"),
        "a_equipment": said(channels, "SW1"), "a_interface": coded(nth, numbers),
        "b_equipment": said(channels, "SW2"), "b_interface": coded(nth, numbers),
    }  # fmt: skip
    return {kind.name: _table(kind, given.get(kind.name)) for kind in KINDS.values()}


def _table(kind: Any, given: dict[str, Any] | None) -> pa.Table:
    if given is None:
        return kind.empty()
    parts = {c: pa.chunked_array(v) if isinstance(v, list) else pa.chunked_array([v]) for c, v in given.items()}
    rows = len(next(iter(parts.values())))
    columns = {}
    for column in kind.columns:
        text = pa.dictionary(pa.int32(), pa.string()) if column.arrow_type == pa.string() else column.arrow_type
        columns[column.name] = parts[column.name].unify_dictionaries() if column.name in parts else pa.nulls(rows, text)
    return pa.table(columns)


@pytest.fixture(scope="module")
def stored(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """The tables as plain Parquet, text as dictionaries."""
    folder = tmp_path_factory.mktemp("channels")
    paths = []
    for name, table in many_channels(CHANNELS).items():
        if table.num_rows:
            paths.append(folder / f"{name}.parquet")
            pq.write_table(table, paths[-1])
    return paths


def read(stored: list[Path]) -> dict[str, pa.Table]:
    """What the yardstick does: read every table."""
    return {p.stem: pq.read_table(p) for p in stored}


def by_plain_loop(tables: dict[str, pa.Table]) -> list[float]:
    """The same sums one channel at a time: losses of both directions at both wavelengths, from dicts."""
    rows = {name: table.to_pylist() for name, table in tables.items()}
    length = {(r["site"], r["cable"]): r["length_m"] for r in rows["cables"]}
    splice = {(r["site"], r["a_cable"], r["a_core"]): r for r in rows["splices"]}
    made = {(r["site"], r["enclosure"], r["port"], r["position"]): r for r in rows["terminations"]}
    plugged = {(r["site"], r["a_at"], r["a_port"], r["a_position"]): r for r in rows["patches"]}
    per_km = {1310.0: 0.4, SECOND_NM: 0.4}
    out = []
    for channel in rows["channels"]:
        for at, port, position in (("SW1", channel["a_interface"], "Tx"), ("SW2", channel["b_interface"], "Tx")):
            here = plugged[channel["site"], at, port, position]
            if at == "SW2":  # the light comes back on the other strand: follow it from SW1's Rx
                here = plugged[channel["site"], "SW1", port, "Rx"]
            first = made[channel["site"], here["b_at"], here["b_port"], here["b_position"]]
            joint = splice[channel["site"], first["cable"], first["core"]]
            metres = length[channel["site"], first["cable"]] + length[channel["site"], joint["b_cable"]] + 2 * 2.0
            fixed = 2 * 0.75 + 2 * 0.3 + (0.3 if joint["loss_db"] is None else joint["loss_db"])
            for wavelength in (1310.0, SECOND_NM):
                loss = fixed + metres * per_km[wavelength] / 1000.0
                out.append(-8.2 + 14.4 - loss)
    return out


def test_both_ways_tell_the_same(stored: list[Path]) -> None:
    """The whole-table answer and the plain loop agree to the last channel (a smaller plant of the same make)."""
    tables = {n: t for n, t in many_channels(500).items() if t.num_rows}
    found = headroom_table(PlantSnapshot(tables))
    assert found.num_rows == 4 * 500
    assert sorted(found["headroom_db"].to_pylist()) == approx(sorted(by_plain_loop(tables)))


def test_headroom_of_50_000_channels(benchmark: Any, stored: list[Path]) -> None:
    """All 200,000 beams from the tables: labels resolved, paths solved, weighed; ratios to the loop and the read."""
    tables = read(stored)
    found = benchmark.pedantic(lambda: headroom_table(PlantSnapshot(tables)), rounds=5, warmup_rounds=1)
    assert found.num_rows == 4 * CHANNELS
    reading, looping = (_fastest(f, n) for f, n in ((lambda: read(stored), 5), (lambda: by_plain_loop(tables), 1)))
    ours = benchmark.stats.stats.median
    benchmark.extra_info |= {
        "x_parquet_read": round(ours / reading, 2),
        "plain_loop_x_ours": round(looping / ours, 1),
        "parquet_read_s": round(reading, 4),
        "plain_loop_s": round(looping, 2),
    }
    print(f"\nheadroom of {4 * CHANNELS} beams: {ours:.2f} s; {ours / reading:.1f} x the Parquet read; "
          f"a plain loop takes {looping / ours:.1f} x as long")  # fmt: skip
    assert looping > ours  # array work must not be slower than the loop it replaces


def _fastest(call: Any, rounds: int) -> float:
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return min(times)
