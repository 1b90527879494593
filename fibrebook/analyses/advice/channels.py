"""Checks of what is in use: is the path whole, does transmit reach receive, is there light enough and not too much."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pyarrow as pa

from fibrebook.analyses.advice.situation import Advice, Situation
from fibrebook.light.multimode import PESSIMISTIC
from fibrebook.losses.budget import falls_short, tightness
from fibrebook.losses.channel_wavelengths import beams_of
from fibrebook.losses.elements import text
from fibrebook.plant.describe import describe
from fibrebook.plant.light_ways import CROSSED, ELSEWHERE, NOWHERE
from fibrebook.plant.states import path_channel

LITTLE_DB = 0.5  # less than one more connection; common practice, no source
ONE_OF_EACH = "fit one optic of each kind, -U at one end and -D at the other"
LASER = "Never look into a fibre or port: use a meter or card."


def path_not_complete(s: Situation) -> Iterator[Advice]:
    """A channel whose light does not arrive at its other interface."""
    for verdict, words in ((NOWHERE, "ends at"), (ELSEWHERE, "comes out at")):
        at = np.flatnonzero(s.ways.verdict == verdict)
        far = s.ways.far[at]
        places = describe(s.net, far, s.net.paths.loops[s.ways.sender[at]])
        for row, way, place, kind in zip(
            s.rows("channels", s.ways.channel[at]), at, places.text.to_pylist(), places.kind.to_pylist(), strict=True
        ):
            direction = ("a to b", "b to a")[s.ways.direction[way]]
            what = f"the light {direction} {words} {kind} {place}"
            yield s.advise("path not complete", "channels", row, what, "find what is not joined or not recorded")


def polarity_wrong(s: Situation) -> Iterator[Advice]:
    """A channel where transmit meets transmit."""
    for row in s.rows("channels", np.unique(s.ways.channel[s.ways.verdict == CROSSED])):
        what = "transmit reaches transmit"
        yield s.advise(
            "polarity wrong", "channels", row, what, f"turn the two fibres over at one end of one cord. {LASER}"
        )


def channel_without_light(s: Situation) -> Iterator[Advice]:
    """A channel none of whose interface positions sends: nothing can be traced."""
    seen = np.zeros(s.tables["channels"].num_rows, bool)
    seen[s.ways.channel] = True
    for row in s.rows("channels", ~seen):
        what = "neither of its interfaces has a position that sends"
        yield s.advise(
            "path not complete", "channels", row, what, "add Tx and Rx (or TxRx) rows to the table interfaces"
        )


def _by_channel(s: Situation, mask: np.ndarray) -> Iterator[dict[str, Any]]:
    """The worst row of the headroom table for each channel that a mask picks."""
    table = s.headroom.filter(pa.array(mask, pa.bool_()))
    worst: dict[tuple[str, str], dict[str, Any]] = {}
    for row in table.to_pylist():
        key = (row["site"], row["channel"])
        if key not in worst or _tightness(row) < _tightness(worst[key]):
            worst[key] = row
    yield from worst.values()


def _tightness(row: dict[str, Any]) -> float:
    left, over = (row[c] if row[c] is not None else float("nan") for c in ("headroom_db", "over_m"))
    return float(tightness(left, over))


def _figures(s: Situation, column: str) -> np.ndarray:
    found: np.ndarray = s.headroom[column].to_numpy(zero_copy_only=False).astype(float)
    return found


def loss_over_the_limit(s: Situation) -> Iterator[Advice]:
    """A channel that loses more than its application or its transceivers allow, or is too long."""
    for row in _by_channel(s, falls_short(_figures(s, "headroom_db"), _figures(s, "over_m"))):
        if row["binding"] == "length":
            allowed = f"the {row['length_max_m']:.0f} m that {row['application']} allows"
            what = f"{row['length_m']:.0f} m is {row['over_m']:.0f} m longer than {allowed}"
        else:
            what = (
                f"{row['loss_db']:.2f} dB at {row['wavelength_nm']:.0f} nm is over the {row['limit_db']:.2f} dB "
                f"of its {row['binding']}"
            )
            if row["mismatch_db"] > 0:
                what += f"; {row['mismatch_db']:.2f} dB of it where unlike cores meet, {PESSIMISTIC}"
        yield s.advise("loss over the limit", "channels", row, what, "measure it; clean and remake the worst joints")


def little_headroom(s: Situation) -> Iterator[Advice]:
    """A channel that would not bear one more connection."""
    left = _figures(s, "headroom_db")
    for row in _by_channel(s, (left >= 0) & (left < LITTLE_DB) & ~(_figures(s, "over_m") > 0)):
        what = f"{row['headroom_db']:.2f} dB of headroom, by {row['binding']}"
        yield s.advise("little headroom", "channels", row, what, "add no joint to it before measuring")


def light_too_strong(s: Situation) -> Iterator[Advice]:
    """A receiver that may get more light than it bears."""
    seen = set()
    for row in s.headroom.filter(pa.array(_figures(s, "too_strong_db") > 0, pa.bool_())).to_pylist():
        key = (row["site"], row["channel"], row["direction"])
        if key not in seen:
            seen.add(key)
            what = f"{row['direction']}: up to {row['too_strong_db']:.1f} dB more light than the receiver bears"
            mends = row["attenuator_db"]
            do = f"fit an attenuator of {mends:.0f} dB" if mends == mends else "no attenuator leaves enough light"
            do += ", or a shorter-reach optic"
            if row["may_damage"]:
                do += "; do not plug it before that: the receiver may be damaged"
            yield s.advise("light too strong", "channels", row, what, do)


def not_specified(s: Situation) -> Iterator[Advice]:
    """An application that its fibre was never specified for, or that nobody knows."""
    seen = set()
    for row in s.headroom.to_pylist():
        key = (row["site"], row["channel"])
        if row["binding"] == "not specified on this fibre" and key not in seen:
            seen.add(key)
            what = f"{row['application']} is not specified on the fibre of its path"
            yield s.advise("application not specified", "channels", row, what, "check fibre class and application")
    names = text(s.tables["channels"]["application"])
    unknown = {n for n in set(names.tolist()) if n and s.values.application_name(n) is None}
    for row in s.rows("channels", np.isin(names, list(unknown))):
        what = f"the application {row['application']!r} has no published limits here"
        yield s.advise(
            "application not known", "channels", row, what, "mend its spelling, or add its data sheet's limits"
        )


def same_wavelength_both_ways(s: Situation) -> Iterator[Advice]:
    """A channel on one strand whose optics are told, and both send the same wavelength."""
    ways, faces = s.ways, s.table("interfaces")
    own = text(faces["application"])
    position = text(faces["position"])
    sender = ways.sender - s.net.first_interface
    path = s.net.paths.label[ways.sender]
    beams = beams_of(s.losses, ways, path)
    one_strand = position[sender] == "TxRx"
    sent: dict[int, dict[int, tuple[str, tuple[float, ...]]]] = {}
    for way in np.unique(beams.way[one_strand[beams.way]]).tolist():
        name = s.values.application_name(own[sender[way]])
        if name is not None and len(s.values.application(name).wavelengths_nm) == 1:
            nm = tuple(beams.wavelength_nm[beams.way == way].tolist())
            sent.setdefault(int(ways.channel[way]), {})[int(ways.direction[way])] = (name, nm)
    alike = [channel for channel, both in sent.items() if len(both) == 2 and both[0][1] == both[1][1]]
    for row, channel in zip(s.rows("channels", alike), alike, strict=True):
        names = dict.fromkeys(name for name, _ in sent[channel].values())
        wavelengths = " and ".join(f"{w:g}" for w in sent[channel][0][1])
        who = " and ".join(names)
        what = f"one strand, and both ends send {wavelengths} nm ({who}): neither receives the other's light"
        yield s.advise("same wavelength both ways", "channels", row, what, ONE_OF_EACH)


def untested(s: Situation) -> Iterator[Advice]:
    """A channel whose path was never loss-tested."""
    channel = path_channel(s.net)
    labels = np.flatnonzero(channel >= 0)
    loss, light = _tested_labels(s)
    without_loss, checked = (np.zeros(s.tables["channels"].num_rows, bool) for _ in range(2))
    without_loss[channel[labels[~loss[labels]]]] = True
    checked[channel[labels[light[labels]]]] = True
    for row, seen in zip(s.rows("channels", without_loss), checked[without_loss].tolist(), strict=True):
        what = "only a light check was made, no loss test" if seen else "was never tested"
        yield s.advise("untested", "channels", row, what, "measure its loss both ways and record it")


def _tested_labels(s: Situation) -> tuple[np.ndarray, np.ndarray]:
    """Per path label: whether a loss test or OTDR shot, and whether a light check, was made of that path."""
    e, tests = s.net.ends, s.tables["tests"]
    site = e.site_ids("tests")
    start, _ = e.plug_vertices(site, tests["from_at"], tests["from_port"], tests["from_position"])
    end, _ = e.plug_vertices(site, tests["to_at"], tests["to_port"], tests["to_position"])
    core, _ = e.core_ids(site, tests["cable"], tests["core"])
    method = text(tests["method"])
    loss, light = np.zeros(s.net.n_vertices, bool), np.zeros(s.net.n_vertices, bool)
    for vertex in (start, end, np.where(core >= 0, 2 * core, -1)):
        known = vertex >= 0
        label = s.net.paths.label[vertex[known]]
        loss[label[np.isin(method[known], ("loss test", "OTDR"))]] = True
        light[label[method[known] == "light check"]] = True
    return loss, light


def test_failed(s: Situation) -> Iterator[Advice]:
    """A test whose verdict was fail."""
    verdict = text(s.tables["tests"]["verdict"])
    for row in s.rows("tests", verdict == "fail"):
        yield s.advise(
            "test failed", "tests", row, f"failed on {row['tested_on'] or 'an unknown day'}", "mend and test again"
        )
