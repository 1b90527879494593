"""A plain worst-case loss of a channel, to make sure that the planted tight links are tight.

Attenuation and connection values: ISO/IEC 11801-1 (maximum attenuation of cabled fibre) and TIA-568.3-D
(0.75 dB a mated pair, 0.3 dB a splice). Application limits: IEEE 802.3, the clause beside each.
"""

from __future__ import annotations

from itertools import pairwise

from demo_maker.follow import Plant

ATTENUATION_DB_PER_KM = {
    ("OM1", 850): 3.5,
    ("OM3", 850): 3.5,
    ("OM4", 850): 3.5,
    ("OM1", 1300): 1.5,
    ("OM3", 1300): 1.5,
    ("OM4", 1300): 1.5,
    ("OS2", 1310): 0.4,
    ("OS2", 1490): 0.4,
    ("OS2", 1550): 0.4,
}
WAVELENGTH_NM = {
    "100BASE-FX": 1300,
    "1000BASE-SX": 850,
    "10GBASE-SR": 850,
    "1000BASE-LX": 1310,
    "1000BASE-LX10": 1310,
    "1000BASE-BX10": 1310,
    "10GBASE-LR": 1310,
    "10GBASE-ER": 1550,
}
LIMIT = {  # application, fibre class: insertion loss in dB, length in m
    ("100BASE-FX", "OM1"): (11.0, 2000),  # clause 26
    ("1000BASE-SX", "OM1"): (2.60, 275),  # clause 38
    ("1000BASE-SX", "OM3"): (3.56, 550),  # clause 38
    ("10GBASE-SR", "OM4"): (2.9, 400),  # clause 52
    ("1000BASE-LX", "OS2"): (4.57, 5000),  # clause 38
    ("1000BASE-LX10", "OS2"): (6.0, 10000),  # clause 59; from memory
    ("1000BASE-BX10", "OS2"): (5.5, 10000),  # clause 59; from memory
    ("10GBASE-LR", "OS2"): (6.2, 10000),  # clause 52; from memory
    ("10GBASE-ER", "OS2"): (10.9, 30000),  # clause 52; from memory
}
CONNECTION_DB = 0.75


def worst_case(plant: Plant, channel: str) -> dict[str, float]:
    """Give loss_db, length_m, limit_db, limit_m and headroom_db of a channel's worst path."""
    row = next(r for r in plant.site.tables["channels"] if r["channel"] == channel)
    nm = WAVELENGTH_NM[row["application"]]
    worst: dict[str, float] = {}
    for position in ("Tx", "Rx", "TxRx"):
        path = plant.channel_path(channel, position)
        if len(path) < 2:
            continue
        cables = [plant.site.cables[n[1]] for n in path if n[0] == "core"][::2]
        ports = {n[1:] for n in path if n[0] == "front"}
        metres = sum(c["length_m"] for c in cables)
        loss = sum(c["length_m"] / 1000 * ATTENUATION_DB_PER_KM[(c["fibre_class"], nm)] for c in cables)
        loss += CONNECTION_DB * len(ports)
        for a, b in pairwise(path):
            if plant.join.get(a, (None,))[0] != b:
                continue
            _, kind, recorded = plant.join[a]
            if kind in ("splice", "termination"):
                loss += recorded
        fibre = cables[0]["fibre_class"]
        limit_db, limit_m = LIMIT[(row["application"], fibre)]
        if not worst or loss > worst["loss_db"]:
            worst = {
                "loss_db": round(loss, 2),
                "length_m": metres,
                "limit_db": limit_db,
                "limit_m": limit_m,
                "headroom_db": round(limit_db - loss, 2),
            }
    return worst
