"""Advice by its short name: a plant in which just that is so, and one in which it is not."""

from __future__ import annotations

import datetime as dt

import pytest
from light_plant import duplex

from fibrebook.snapshot.snapshot import PlantSnapshot

DAY = dt.date(2026, 3, 1)


def with_test(plant, **more):
    """The plant with a loss test of the strand from P1 1A to P2 1A."""
    ends = {"from_at": "P1", "from_port": "1", "from_position": "A", "to_at": "P2", "to_port": "1", "to_position": "A"}
    told = {"method": "loss test", "wavelength_nm": 1310, "direction": "a to b", "loss_db": 0.9, "tested_on": DAY}
    return plant.put("tests", test="T1", reference_method="one-cord", **(ends | told | more))


def changed(plant, kind, **values):
    """The plant with other values in the first row of a kind."""
    plant.rows[kind][0] |= values
    return plant


def respliced(made_on):
    """A tested channel whose splice was made on a day."""
    return changed(with_test(duplex(splices=1)), "splices", made_on=made_on)


SO = {
    "application not known": (
        lambda: duplex("SMOKE SIGNALS"), lambda: duplex(), [("channels", "CH1")],
    ),
    "application not specified": (
        lambda: duplex("10GBASE-LR", fibre_class="OM1"), lambda: duplex(), [("channels", "CH1")],
    ),
    "mode mismatch": (
        lambda: duplex(via=(("OS2", 100.0), ("OM3", 100.0))), lambda: duplex(via=(("OS2", 100.0), ("OS2", 100.0))),
        [("splices", "J1/1/1"), ("splices", "J1/1/2")],
    ),
    "core mismatch": (
        lambda: duplex("1000BASE-SX", via=(("OM1", 100.0), ("OM3", 100.0))),
        lambda: duplex("1000BASE-SX", via=(("OM2", 100.0), ("OM3", 100.0))), [("splices", "J1/1/1"), ("splices", "J1/1/2")],
    ),
    "faulty core in use": (
        lambda: duplex().put("cores", cable="C1", core=1, condition="faulty"),
        lambda: duplex().put("cores", cable="C1", core=7, condition="faulty"), [("cores", "C1/1")],
    ),
    "length not known": (
        lambda: changed(duplex(), "cables", length_m=None), lambda: duplex(), [("cables", "C1")],
    ),
    "test cannot be judged": (
        lambda: with_test(duplex(), to_at=None, to_port=None, to_position=None), lambda: with_test(duplex()),
        [("tests", "T1")],
    ),
    "test out of date": (
        lambda: respliced(DAY + dt.timedelta(1)), lambda: respliced(DAY), [("cables", "C1"), ("cables", "C2")],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", SO)
def test_advice_is_given_where_it_is_so_and_not_where_it_is_not(name):
    """The records that are named are just those of which it is so; beside the sound plant nothing of the name is told."""
    odd, sound, records = SO[name]
    assert [(table, record) for check, table, record in told(odd()) if check == name] == records
    assert name not in {check for check, _, _ in told(sound())}


def told(plant):
    """Advice as (check, table, record)."""
    from fibrebook.analyses.advice.advice import all_advice
    from fibrebook.analyses.advice.situation import Situation

    found = all_advice(Situation(PlantSnapshot(plant.tables, dt.date(2026, 11, 20))))
    return [(a.check, a.table, a.record) for a in found]
