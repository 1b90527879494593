"""`fibrebook which`, printed: the paths through what a label means, in words and lines for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

from fibrebook.analyses.paths.which import which_table
from fibrebook.cli.printed import CAUTION, WIDTH, Col, number, text_table
from fibrebook.register import Register
from fibrebook.snapshot.snapshot import PlantSnapshot

BASIS_LETTER = {"measured": "m", "recorded": "r", "catalogue": "c"}


def look_up(reg: Register, site: str, words: Sequence[str]) -> dict[str, Any]:
    """Return what `analyses.paths.which` tells of some words at a site, as it is printed with --json."""
    return {"site": site, "found": which_table(PlantSnapshot.of(reg, site), site, words).to_pylist()}


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
