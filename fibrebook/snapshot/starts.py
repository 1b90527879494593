"""Where an answer about one path starts: a start of `trace`, or a channel by its name."""

from __future__ import annotations

from collections.abc import Sequence

from fibrebook.errors import NotFoundError
from fibrebook.plant import Network
from fibrebook.plant.light_ways import light_ways
from fibrebook.plant.walk import Start, start_at
from fibrebook.words.nearest import did_you_mean

DIRECTIONS = ("a to b", "b to a")


def channel_row(net: Network, site: str, channel: object) -> int:
    """Row of a channel of the site; NotFoundError that names the nearest where there is none."""
    table = net.ends.table("channels")
    there = [
        c if s == site else None for s, c in zip(table["site"].to_pylist(), table["channel"].to_pylist(), strict=True)
    ]
    if str(channel) in there:
        return there.index(str(channel))
    known = [c for c in there if c]
    raise NotFoundError(f"site {site!r} has no channel {channel!r}; {did_you_mean(str(channel), known)}")


def any_start(net: Network, site: str, start: Sequence[object]) -> Start:
    """Find a start: ("channel", channel) and ("channel", channel, direction) begin at the interface that sends."""
    if not start or start[0] != "channel":
        return start_at(net, site, start)
    direction = str(start[2]) if len(start) > 2 else DIRECTIONS[0]
    if len(start) not in (2, 3) or direction not in DIRECTIONS:
        raise NotFoundError(
            f"{tuple(start)!r} is no start: give ('channel', channel) or ('channel', channel, 'b to a')"
        )
    row, ways = channel_row(net, site, start[1]), light_ways(net)
    sends = [
        i for i in range(len(ways.channel)) if ways.channel[i] == row and DIRECTIONS[ways.direction[i]] == direction
    ]
    if not sends:
        raise NotFoundError(f"channel {start[1]!r}: no interface sends {direction}; add its Tx row to interfaces")
    return Start(int(ways.sender[sends[0]]), 0, f"channel {start[1]}")
