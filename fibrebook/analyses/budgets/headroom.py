"""Will the light get through, with how much to spare, and what binds: every channel, wavelength and direction."""

from __future__ import annotations

import numpy as np
import pyarrow as pa

from fibrebook.losses.budget import Load, weigh
from fibrebook.losses.channel_wavelengths import WINDOWS_NM, Beams, beams_of, powers_of
from fibrebook.plant.light_ways import NOWHERE, VERDICTS
from fibrebook.records.references.columns import coded, taken
from fibrebook.records.references.labels_as_numbers import Ints
from fibrebook.snapshot.analysis import analysis
from fibrebook.snapshot.snapshot import PlantSnapshot

__all__ = ["WINDOWS_NM", "headroom", "headroom_table"]
DIRECTIONS = ("a to b", "b to a")


@analysis
def headroom(seen: PlantSnapshot, site: str | None = None) -> pa.Table:
    """Weigh every channel against what its application and its transceivers allow.

    Parameters
    ----------
    site : label of one site, or None for all

    Returns
    -------
    DataFrame, one row a channel, direction and wavelength: site, channel, application, direction ("a to b", "b to a"),
    wavelength_nm, loss_db (worst case: loss tests tell their stretches, the records the rest), measured_db,
    recorded_db, catalogue_db (its shares by basis), loss_by_records_db (as if nothing had been tested),
    loss_by_tests_db (loss_db where a test counts, else NaN), limit_db (of what binds), headroom_db (limit_db - loss_db
    - margin_db, in every row), over_m (metres by which the path is longer than the application allows, NaN where it is
    not), binding (channel insertion loss, power budget, length where that alone is exceeded, or in words why there is
    no figure), tests (labels of those that count), tests_binding (those of them that failed or found more than the
    records say), tests_carried (those made at another wavelength or the other way: their excess over the records is
    carried, the fibre weighed anew), length_m, length_max_m,
    insertion_loss_max_db, power_budget_db, too_strong_db (by how much the light may exceed what the
    receiver bears), polarity (does transmit reach receive), source (of the limit), attenuator_db (least whole decibels
    that mend too much light and still leave enough), may_damage (more than the receiver survives, where that is
    published), mismatch_db (share lost where cores of different size meet, in this direction), margin_db (the firm's
    choice for ageing and repair, 0 by default), not_known (elements whose loss nobody can tell; loss_db is then at
    least that).
    headroom_db is NaN where no figure can be given: the path is not complete, a length or fibre class is not known, or
    the application is not specified on this fibre.
    """
    return headroom_table(seen)


def headroom_table(seen: PlantSnapshot, margin_db: float | None = None) -> pa.Table:
    """As `headroom`, as an Arrow table; `margin_db` None = the firm's choice."""
    net, losses, ways = seen.network, seen.losses, seen.light_ways
    path = net.paths.label[ways.sender]
    beams = beams_of(losses, ways, path)
    found = weigh(losses, load_of(seen, beams, path), seen.values.margin_db if margin_db is None else margin_db)
    source, not_known = found.pop("source"), found.pop("not_known")
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
        "not_known": not_known,
    }
    return pa.table({k: v if isinstance(v, pa.Array) else pa.array(v) for k, v in table.items()})


def load_of(seen: PlantSnapshot, beams: Beams, path: Ints) -> Load:
    """Give the beams of channels as a load on their paths."""
    ways, way = seen.light_ways, beams.way
    return Load(
        path=path[way],
        outward=(ways.sender == path)[way],
        application=beams.application,
        names=beams.names,
        wavelength_nm=beams.wavelength_nm,
        power=powers_of(seen.values, seen.network, ways, beams),
        complete=(ways.verdict != NOWHERE)[way],
        added_db=np.zeros(len(way)),
    )
