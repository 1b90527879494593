"""Where a core end is made off: the port that it comes out at."""

from __future__ import annotations

import numpy as np

from fibrebook.plant.network import Network
from fibrebook.records.references.labels_as_numbers import Ints


def ports_of_core_ends(net: Network) -> Ints:
    """Port row on which each core end is made off, or -1; core ends as vertices (2 * core + end)."""
    at = np.full(net.ends.first_plug, -1, np.int64)
    end, (port, _) = net.ends.termination_ends.vertex, net.ends.termination_ports
    good = (end >= 0) & (port >= 0)
    at[end[good]] = port[good] - net.ends.first_plug
    return at
