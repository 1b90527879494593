"""`fibrebook which`: find what a label means, and tell the path through it both ways."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

import numpy as np

from fibrebook.analyses.paths.trace import trace_table
from fibrebook.cli.printed import CAUTION, WIDTH, Col, number, text_table
from fibrebook.plant import STATES, Network, core_states
from fibrebook.plant.describe import describe
from fibrebook.plant.states import path_channel
from fibrebook.register import Register
from fibrebook.snapshot.snapshot import PlantSnapshot
from fibrebook.snapshot.things import Found

BASIS_LETTER = {"measured": "m", "recorded": "r", "catalogue": "c"}


def look_up(reg: Register, site: str, words: Sequence[str]) -> dict[str, Any]:
    """Find what is meant at a site and tell each path; NotFoundError, AmbiguousError as `Names.one`."""
    seen = PlantSnapshot.of(reg, site)
    found = seen.names.some(site, words, alike=1)
    return {"site": site, "found": [_one(seen, site, one) for one in found]}


def _one(seen: PlantSnapshot, site: str, found: Found) -> dict[str, Any]:
    net, start = seen.network, found.start
    begin = seen.names.begin(found)
    ways = {
        "core": (("end A", 0), ("end B", 1)),
        "port": (("its front", 1), ("its rear", 0)),
        "interface": (("its front", 1),),
    }
    reaches = []
    for way, slot in ways[start[0]]:
        vertex = begin.vertex + slot if start[0] == "core" else begin.vertex
        reaches.append({"out of": way, **_far(net, vertex, 1 if start[0] == "core" else slot)})
    told: dict[str, Any] = {"start": list(start), "reaches": reaches, "state": None, "channel": None}
    if start[0] == "core":
        told["state"] = STATES[core_states(net)[begin.vertex // 2]]
    channel = int(path_channel(net)[net.paths.label[begin.vertex]])
    if channel >= 0:
        row = net.ends.table("channels").slice(channel, 1).to_pylist()[0]
        told["channel"] = {k: row[k] for k in ("channel", "application", "purpose")}
    path = trace_table(seen, site, start).to_pylist()
    return told | {"path": path, "loss_not_known": loss_not_known(net, path)}


def loss_not_known(net: Network, path: Sequence[dict[str, Any]]) -> list[str]:
    """Say of each element of a path, whose loss nobody can tell, why: core K1/1 has no fibre class."""
    cores = net.ends.table("cores")
    rows = zip(*(cores[c].to_pylist() for c in ("cable", "core", "condition")), strict=True)
    faulty = {(cable, str(core)) for cable, core, condition in rows if condition == "faulty"}
    out = []
    for row in path:
        name = f"{row['kind']} {row['at']}/{row['name']}"
        unknown = row["loss_db"] is None or row["loss_db"] != row["loss_db"]
        if row["kind"] == "core" and (row["at"], row["name"]) in faulty:
            out.append(f"{name} is faulty")
        elif not unknown or row["kind"] in ("interface", "loose end"):
            continue
        elif row["kind"] not in ("core", "cord"):
            out.append(f"the loss of {name} is not known")
        elif row["length_m"] is None:
            out.append(f"{name} has no length")
        elif _is_classed(net, row):
            out.append(f"{name} has a fibre class of which no attenuation is known")
        else:
            out.append(f"{name} has no fibre class")
    return out


def _is_classed(net: Network, row: dict[str, Any]) -> bool:
    """Whether the cable of a core says some fibre class, if none that has an attenuation."""
    cables = net.ends.table("cables")
    classes = dict(zip(cables["cable"].to_pylist(), cables["fibre_class"].to_pylist(), strict=True))
    return bool(row["kind"] == "core" and classes.get(row["at"]))


def _far(net: Network, vertex: int, slot: int) -> dict[str, Any]:
    at = np.array([vertex], np.int64)
    far = net.paths.far(at, slot)
    told = describe(net, far, net.paths.loops[at])
    parts = ("kind", "at", "port", "position", "text")
    return {name: getattr(told, name)[0].as_py() for name in parts} | {"itself": bool(far[0] == vertex)}


def as_text(answer: dict[str, Any]) -> str:
    """Tell the paths in words and lines for a terminal of 80 columns."""
    return "\n\n".join([*(_path_text(answer["site"], one) for one in answer["found"]), CAUTION])


def _path_text(site: str, one: dict[str, Any]) -> str:
    kind, *labels = one["start"]
    colour = next((row["colour"] for row in one["path"] if row["start"] and row["colour"]), None)
    head = f"{site}: {kind} {'/'.join(filter(None, labels))}"
    head += "".join(f", {part}" for part in (colour, one["state"]) if part)
    lines = [head, *(_reach_text(r) for r in one["reaches"])]
    if one["channel"]:
        told = ", ".join(filter(None, (one["channel"]["application"], one["channel"]["purpose"])))
        lines.append(f"Channel {one['channel']['channel']}{': ' + told if told else ''}.")
    wrapped = [part for line in lines for part in textwrap.wrap(line, WIDTH, subsequent_indent="  ")]
    return "\n".join([*wrapped, "", _steps_text(one["path"], one["loss_not_known"])])


def _reach_text(reach: dict[str, Any]) -> str:
    if reach["kind"] == "loop":
        return f"Out of {reach['out of']} it comes back to itself: a loop."
    if reach["itself"]:
        return f"Out of {reach['out of']} nothing is joined."
    return f"Out of {reach['out of']} it reaches {reach['kind']} {reach['text']}."


def _steps_text(path: list[dict[str, Any]], unknown: Sequence[str]) -> str:
    def label(row: dict[str, Any]) -> str:
        text = f"{row['at']}/{row['name']}" if row["name"] else row["at"]
        return text + (f"\n{row['colour']}" if row["colour"] else "")

    length = sum(row["length_m"] or 0 for row in path)
    loss = sum(row["loss_db"] for row in path if row["loss_db"] is not None and row["loss_db"] == row["loss_db"])
    wavelength = path[0]["wavelength_nm"] if path else None
    total = ["at least" if unknown else "in all"]
    total[0] += f", at {wavelength:.0f} nm" if wavelength else ""
    table = text_table(
        [
            Col("", [">" if row["start"] else "" for row in path] + [""]),
            Col("", [row["kind"] for row in path] + ["="]),
            Col("label", [label(row) for row in path] + total),
            Col("m", [number(row["length_m"], 1) for row in path] + [number(length, 1)], right=True),
            Col("dB", [number(row["loss_db"] or None) for row in path] + [number(loss)], right=True),
            Col("", [_letters(row["basis"]) for row in path] + [""]),
            Col("where", [row["location"] or "" for row in path] + [""]),
        ],
        gap=1,
    )
    told = textwrap.wrap(f"at least {loss:.2f} dB; {'; '.join(unknown)}", WIDTH) if unknown else []
    told += [line for text in _tests_text(path) for line in textwrap.wrap(text, WIDTH)]
    return "\n".join([table, *told]) + "\ndB: m measured, r recorded by the splicer, c catalogue limit"


def _tests_text(path: list[dict[str, Any]]) -> list[str]:
    """Say of each loss test that counts which stretch it tells as one figure, and what is to be known of it."""
    out = []
    for test in dict.fromkeys(row["test"] for row in path if row["test"]):
        mine = [row for row in path if row["test"] == test]
        note = mine[-1]["test_note"]
        ends = " to ".join(f"{row['at']}/{row['name']}" for row in (mine[0], mine[-1]))
        out.append(f"Loss test {test} tells {ends} as one figure{f' ({note})' if note else ''}.")
    return out + [f"Loss test {row['test_note']}." for row in path if row["test_note"] and not row["test"]]


def _letters(basis: str | None) -> str:
    return "+".join(BASIS_LETTER[b] for b in basis.split(" + ")) if basis else ""
