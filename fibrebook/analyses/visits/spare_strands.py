"""Which cores are the spare ones between two places, strand by strand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyarrow as pa

from fibrebook.analyses.paths.trace import trace_table
from fibrebook.plant.strands import free_strands, places_of
from fibrebook.snapshot.analysis import analysis
from fibrebook.snapshot.snapshot import PlantSnapshot
from fibrebook.words.labels import natural

SCHEMA = pa.schema([(n, pa.string()) for n in ("site", "from", "to", "cores", "colours")])


@analysis
def spare_strands(seen: PlantSnapshot, site: str, here: str, there: str) -> pa.Table:
    """Name the spare strands that run from one place to another as they are, both ends on free ports.

    Parameters
    ----------
    site : label of the site
    here, there : labels of enclosures, or of locations (all enclosures in them)

    Returns
    -------
    DataFrame, one row a strand, as many as `spare_between` counts at its level "now": site, from (the port here), to
    (the port there), cores (cable/core, those spliced to each other joined by " + "), colours (of the same, in words).

    Raises NotFoundError where there is no such place, or both share an enclosure.
    """
    return spare_strands_table(seen, site, here, there)


def spare_strands_table(seen: PlantSnapshot, site: str, here: str, there: str) -> pa.Table:
    """As `spare_strands`, as an Arrow table."""
    net = seen.network
    labels = [seen.names.label(site, said, ("enclosure", "location")) for said in (here, there)]
    places, strands = places_of(net, *labels), free_strands(net)
    a_here, b_there = np.isin(strands.a_place, [*places.here]), np.isin(strands.b_place, [*places.there])
    b_here, a_there = np.isin(strands.b_place, [*places.here]), np.isin(strands.a_place, [*places.there])
    through = np.flatnonzero(strands.ready & ((a_here & b_there) | (b_here & a_there)))
    rows = [
        {"site": site} | _strand(seen, site, int(core), bool(turned))
        for core, turned in zip(strands.core[through], b_here[through], strict=True)
    ]
    rows.sort(key=lambda row: natural(row["from"]))
    return pa.Table.from_pylist(rows, schema=SCHEMA)


def _strand(seen: PlantSnapshot, site: str, core: int, turned: bool) -> dict[str, Any]:
    """One strand, from the side that is asked for; `turned`: its core's end B lies there."""
    row = seen.cores.slice(core, 1).to_pylist()[0]
    path = trace_table(seen, site, ("core", row["cable"], row["core"])).to_pylist()
    path = path[::-1] if turned else path  # a core's path starts out of its end A
    ports = [_name(step) for step in path if step["kind"] == "port"]
    cores = [step for step in path if step["kind"] == "core"]
    return {
        "from": ports[0],
        "to": ports[-1],
        "cores": " + ".join(map(_name, cores)),
        "colours": " + ".join(step["colour"] or "colour not known" for step in cores),
    }


def _name(step: dict[str, Any]) -> str:
    return f"{step['at']}/{step['name']}"
