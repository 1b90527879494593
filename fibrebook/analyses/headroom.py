"""Will the light get through, with how much to spare, and what binds: every channel, wavelength and direction."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pyarrow as pa

from fibrebook.analyses.assemble import coded, network, taken
from fibrebook.analyses.beams import WINDOWS_NM, Beams, beams_of, powers_of
from fibrebook.analyses.firm import by_the_firm, firm_choices
from fibrebook.analyses.weighing import Load, weigh
from fibrebook.analyses.weights import Weights
from fibrebook.plant import Network
from fibrebook.plant.polarity import NOWHERE, VERDICTS, Ways, light_ways
from fibrebook.records import to_frame
from fibrebook.records.ends import Ints

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

__all__ = ["WINDOWS_NM", "headroom", "headroom_arrow", "headroom_table"]
DIRECTIONS = ("a to b", "b to a")


def headroom(reg: Register, site: str | None = None) -> pd.DataFrame:
    """Weigh every channel against what its application and its transceivers allow.

    Parameters
    ----------
    reg : the register
    site : label of one site, or None for all

    Returns
    -------
    DataFrame, one row a channel, direction and wavelength: site, channel, application, direction ("a to b", "b to a"),
    wavelength_nm, loss_db (worst case), measured_db, recorded_db, catalogue_db (its shares by basis), limit_db (of what
    binds), headroom_db (limit_db - loss_db - margin_db; where the length binds, the metres over it as fibre loss,
    negative), binding (channel insertion loss, power budget, length, or in words why there is no figure), length_m,
    length_max_m, insertion_loss_max_db, power_budget_db, too_strong_db (by how much the light may exceed what the
    receiver bears), polarity (does transmit reach receive), source (of the limit), attenuator_db (least whole decibels
    that mend too much light and still leave enough), may_damage (more than the receiver survives, where that is
    published), mismatch_db (share lost where cores of different size meet, in this direction), margin_db (the firm's
    choice for ageing and repair, 0 by default).
    headroom_db is NaN where no figure can be given: the path is not complete, a length or fibre class is not known, or
    the application is not specified on this fibre.
    """
    return to_frame(headroom_arrow(reg, site))


@by_the_firm
def headroom_arrow(reg: Register, site: str | None = None) -> pa.Table:
    """As `headroom`, as an Arrow table, by the firm's own values and choices."""
    return headroom_table(network(reg, site), firm_choices(reg).margin_db)


def headroom_table(net: Network, margin_db: float = 0.0) -> pa.Table:
    """As `headroom`, as an Arrow table, from a network."""
    weights = Weights(net)
    ways = light_ways(net)
    path = net.paths.label[ways.sender]
    beams = beams_of(net, weights, ways, path)
    found = weigh(weights, load_of(net, ways, beams, path), margin_db)
    source = found.pop("source")
    channels, channel = net.ends.table("channels"), ways.channel[beams.way]
    table = {
        "site": taken(channels["site"], channel),
        "channel": taken(channels["channel"], channel),
        "application": coded(beams.application, beams.names),
        "direction": coded(ways.direction[beams.way], DIRECTIONS),
        "wavelength_nm": beams.wavelength_nm,
        **found,
        "polarity": coded(ways.verdict[beams.way], VERDICTS),
        "source": source,
    }
    return pa.table({k: v if isinstance(v, pa.Array) else pa.array(v) for k, v in table.items()})


def load_of(net: Network, ways: Ways, beams: Beams, path: Ints) -> Load:
    """Give the beams of channels as a load on their paths."""
    import numpy as np

    way = beams.way
    return Load(
        path=path[way],
        outward=(ways.sender == path)[way],
        application=beams.application,
        names=beams.names,
        wavelength_nm=beams.wavelength_nm,
        power=powers_of(net, ways, beams),
        complete=(ways.verdict != NOWHERE)[way],
        added_db=np.zeros(len(way)),
    )
