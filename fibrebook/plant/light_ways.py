"""Does transmit reach receive? Both directions of every channel, as array work.

The rule: a channel of duplex fibre turns over an odd number of times, so that Tx at one end reaches Rx at the other
(duplex rule of TIA-568.3; ISO/IEC 14763-2). Here it is read off the records: where does the light come out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fibrebook.plant.network import Network
from fibrebook.plant.states import interface_channel
from fibrebook.records.references.labels_as_numbers import Ints, Labels

ARRIVES, CROSSED, ELSEWHERE, NOWHERE = range(4)
VERDICTS = (
    "transmit reaches receive",
    "transmit reaches transmit",
    "light comes out at another interface",
    "light does not arrive",
)


@dataclass(frozen=True)
class Ways:
    """The light's way in each direction of each channel; a channel without an interface that sends has none.

    channel : row in `channels`; direction : 0 a to b, 1 b to a; sender, far : vertices; verdict : code into VERDICTS
    """

    channel: Ints
    direction: Ints
    sender: Ints
    far: Ints
    verdict: Ints


def light_ways(net: Network) -> Ways:
    """Return where the light of every sending interface of every channel comes out."""
    faces = net.ends.table("interfaces")
    row, side = interface_channel(net)
    words = Labels()
    position = words.ids(faces["position"])
    sends, takes = (np.isin(words.texts, sort)[position] for sort in (("Tx", "TxRx"), ("Rx", "TxRx")))
    sender = np.flatnonzero(sends & (row >= 0))
    order = np.lexsort((side[sender], row[sender]))
    sender = sender[order]
    vertex = sender + net.first_interface
    far = net.paths.far(vertex, 1)
    whole = net.is_interface(far) & (far != vertex)
    other = np.where(whole, far - net.first_interface, 0)
    if not len(sender):
        empty = np.empty(0, np.int64)
        return Ways(empty, empty, empty, empty, empty)
    same = whole & (row[other] == row[sender]) & (side[other] != side[sender])
    verdict = np.where(same & takes[other], ARRIVES, np.where(same, CROSSED, np.where(whole, ELSEWHERE, NOWHERE)))
    return Ways(row[sender], side[sender], vertex, far, verdict)
