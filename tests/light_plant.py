"""A duplex channel between two switches, written down in one call, for tests of light."""

from __future__ import annotations

from hand_plant import Plant
from plants import put_all

import fibrebook


def duplex(
    application="10GBASE-LR",
    fibre_class="OS2",
    length_m=500.0,
    splices=0,
    via=(),
    plant=None,
    n=1,
    turn=True,
    **powers,
):
    """SW1 to SW2 over panels P1 and P2: cable C1 (or a chain of cables of other classes, `via`: class and metres).

    splices : closures on the way, each with one splice a strand; powers : of all interfaces; turn : A-B cord at SW2;
    n : number of the channel, with its own ports and cores 2n - 1 and 2n
    """
    first = plant is None
    plant = plant or Plant()
    spans = list(via) or [(fibre_class, length_m / (splices + 1))] * (splices + 1)
    stations = ["P1", *[f"J{k}" for k in range(1, len(spans))], "P2"]
    if first:
        plant.panel("P1", 4).panel("P2", 4).switch("SW1", "1", "2", "3").switch("SW2", "1", "2", "3")
        for name in stations[1:-1]:
            plant.panel(name, 0, kind="joint closure")
        for k, (klass, metres) in enumerate(spans):
            here, there = stations[k], stations[k + 1]
            plant.cable(f"C{k + 1}", here, there, 8, fibre_class=klass, length_m=metres, length_basis="measured")
    for strand, side in ((2 * n - 1, "A"), (2 * n, "B")):
        plant.make_off("P1", f"{n}{side}", "C1", strand)
        for k in range(1, len(spans)):
            plant.splice(f"J{k}", (f"C{k}", strand), (f"C{k + 1}", strand), method="fusion")
        plant.make_off("P2", f"{n}{side}", f"C{len(spans)}", strand)
    for position, near, far in (("Tx", "A", "B" if turn else "A"), ("Rx", "B", "A" if turn else "B")):
        plant.cord(("SW1", str(n), position), ("P1", str(n), near))
        plant.cord(("SW2", str(n), position), ("P2", str(n), far))
    # the two strands of a cord are one cord
    for pair, name in ((-4, f"K{n}a"), (-3, f"K{n}b")):
        for strand, at in ((1, pair), (2, pair + 2)):
            plant.rows["patches"][at] |= {"cord": name, "strand": str(strand)}
    plant.channel(f"CH{n}", ("SW1", str(n)), ("SW2", str(n)))
    plant.rows["channels"][-1]["application"] = application
    for row in plant.rows["interfaces"]:
        if row["interface"] == str(n):
            row |= {"application": application, **powers}
    return plant


def register(plant, where, **firm):
    """A register that holds the plant, and the firm's own `choices` and `reference_values`."""
    reg = fibrebook.create(where, name="test")
    put_all(reg, {**plant.rows, **{kind: list(rows) for kind, rows in firm.items()}})
    return reg
