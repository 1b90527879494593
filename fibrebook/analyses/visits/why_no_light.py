"""Why there is no light: the records walked from both ends, and what to check first."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

import pyarrow as pa

from fibrebook.analyses.advice.advice import all_advice
from fibrebook.analyses.advice.situation import Advice, Situation
from fibrebook.analyses.paths.polarity import LASER
from fibrebook.analyses.paths.trace import trace_table
from fibrebook.analyses.paths.which import loss_not_known
from fibrebook.analyses.visits.about_site import open_snags
from fibrebook.plant.states import path_channel
from fibrebook.snapshot.analysis import analysis
from fibrebook.snapshot.snapshot import PlantSnapshot
from fibrebook.snapshot.things import ON_ONE_PATH, Said
from fibrebook.words.spelling import parted

SCHEMA = pa.schema(
    [("site", pa.string()), ("order", pa.int64()), *((n, pa.string()) for n in ("where", "check", "why"))]
)
DIRECTIONS = ("a to b", "b to a")
LOOK = "take it out, look at its face through a microscope with filter or camera, clean it, put it back"
OPTIC = "see that it is the right optic, switched on, and that the cord sits in it"
Row = dict[str, Any]


class Way(NamedTuple):
    """One way of light: in words, and its elements in order as `trace` tells them."""

    words: str
    path: list[Row]


@analysis
def why_no_light(seen: PlantSnapshot, site: str, said: Said) -> pa.Table:
    """Tell what to check, first what the records say is wrong, then every connection from both ends inwards.

    Parameters
    ----------
    site : label of the site
    said : a channel, or a core, port or interface on the path, as `trace` takes it

    Returns
    -------
    DataFrame, one row a check, in the order to make them: site, order (1, 2, ...), where (element, and its location),
    check (what to do there), why (what the records say). First where the way ends too early or comes back to itself;
    then faulty cores; what advice says of the channel, its cords and tests (polarity, loss, light too strong, polish,
    temporary cords); open snags that name an element; then, from both ends inwards, each connection. The order of the
    last is common practice, no source.

    Raises NotFoundError, with the nearest names, where there is no such thing; AmbiguousError, with all, where several
    are called so.
    """
    return why_no_light_table(seen, site, said)


def why_no_light_table(seen: PlantSnapshot, site: str, said: Said) -> pa.Table:
    """As `why_no_light`, as an Arrow table."""
    ways, channel = _ways(seen, site, said)
    found = [*_ends(ways), *_faulty(seen, ways), *_advised(seen, ways, channel), *_snags(seen, ways), *_faces(ways)]
    once: dict[tuple[str, str], Row] = {}
    for row in found:
        once.setdefault((row["where"], row["check"]), row)
    rows = list(once.values())
    return pa.Table.from_pylist([{"site": site, "order": n} | row for n, row in enumerate(rows, 1)], schema=SCHEMA)


def _ways(seen: PlantSnapshot, site: str, said: Said) -> tuple[list[Way], str]:
    """The paths to look at, and the channel they serve ("" = none)."""
    net, names = seen.network, seen.names
    found = names.some(site, said, (*ON_ONE_PATH, "channel"))
    if found[0].kind != "channel":
        begins = [names.begin(f).vertex for f in found]
        row = int(path_channel(net)[net.paths.label[begins[0]]])
        if row < 0:
            return [Way(f.text, trace_table(seen, site, f.start).to_pylist()) for f in found], ""
        label = net.ends.table("channels")["channel"][row].as_py()
    else:
        label = found[0].key[0]
    channel = net.ends.table("channels").slice(names.channel_row(site, label), 1).to_pylist()[0]
    ways = []
    for direction, end in zip(DIRECTIONS, "ab", strict=True):
        at, interface = channel[f"{end}_equipment"], channel[f"{end}_interface"]
        for start in names.meant(site, ("interface", at, interface)):
            path = trace_table(seen, site, start.start).to_pylist()
            if start.key[2] != "Rx":  # the light of the other direction
                ways.append(Way(f"{label}, {direction}", path))
    return ways, label


def _ends(ways: list[Way]) -> Iterator[Row]:
    for way in ways:
        for step in {id(s): s for s in (way.path[0], way.path[-1])}.values():
            if step["kind"] == "interface" and len(way.path) > 1:
                continue
            lies = "a loose end" if step["kind"] == "loose end" else "nothing is joined to it"
            yield _row(
                step, "join it on, or find what it was taken off for", f"the way of {way.words} ends here: {lies}"
            )


def _faulty(seen: PlantSnapshot, ways: list[Way]) -> Iterator[Row]:
    for way in ways:
        for step in way.path:
            if step["kind"] == "core" and any(t.endswith("is faulty") for t in loss_not_known(seen.network, [step])):
                yield _row(step, "use another core", "it is recorded as faulty")


def _advised(seen: PlantSnapshot, ways: list[Way], channel: str) -> Iterator[Row]:
    steps = {("patches", _name(s)): s for way in ways for s in way.path if s["kind"] == "cord"}
    steps |= {("tests", s["test"]): s for way in ways for s in way.path if s["test"]}
    for one in _in_order(all_advice(Situation(seen))):
        if one.table == "channels" and one.record == channel:
            check = one.do.removesuffix(LASER).strip()  # that caution stands over the whole answer
            yield {"where": f"channel {channel}", "check": check, "why": one.what}
        elif (one.table, one.record) in steps:
            yield _row(steps[one.table, one.record], one.do, f"{one.check}: {one.what}")


def _in_order(found: list[Advice]) -> list[Advice]:
    """What stops light before what weakens it, and that before what was only never done."""
    first = ("polarity wrong", "light does not arrive", "test failed", "loss over the limit")
    last = ("untested", "test out of date", "little headroom")
    rank = {check: n for n, check in enumerate(first)} | {check: 99 + n for n, check in enumerate(last)}
    return sorted(found, key=lambda a: rank.get(a.check, 50))


def _snags(seen: PlantSnapshot, ways: list[Way]) -> Iterator[Row]:
    steps = [s for way in ways for s in way.path]
    for snag in open_snags(seen.table("snags").to_pylist()):
        words = f" {' '.join(parted(' '.join(filter(None, (snag['what'], snag['where'])))))} "
        for step in steps:
            if any(f" {' '.join(parted(said))} " in words for said in (step["at"], _name(step))):
                yield _row(
                    step, "look whether it is still so", f"open snag {snag['snag']}: {snag['what'] or 'not said what'}"
                )
                break


def _faces(ways: list[Way]) -> Iterator[Row]:
    """Every connection, from the ends inwards, a step from either side in turn."""
    for way in ways:
        mated = [s for s in way.path if s["kind"] in ("interface", "port")]
        inwards = [s for pair in zip(mated, mated[::-1], strict=True) for s in pair]
        for step in list({id(s): s for s in inwards}.values()):
            what = OPTIC if step["kind"] == "interface" else LOOK
            loss = None if step["test"] else step["loss_db"]  # a test tells its stretch as one figure
            known = "" if step["kind"] == "interface" or loss is None else f"; it should lose {loss:.2f} dB"
            yield _row(step, what, f"on the way of {way.words}{known}")


def _name(step: Row) -> str:
    return f"{step['at']}/{step['name']}" if step["name"] else str(step["at"])


def _row(step: Row, check: str, why: str) -> Row:
    where = f" ({step['location']})" if step["location"] else ""
    return {"where": f"{step['kind']} {_name(step)}{where}", "check": check, "why": why}
