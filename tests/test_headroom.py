"""Headroom against hand reckoning: what binds, both ways, every wavelength, too much light, margin, mismatch."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from light_plant import duplex, register
from pytest import approx

import fibrebook
from fibrebook.analyses.budgets.headroom import headroom_table
from fibrebook.errors import RuleError

OS2_DB_PER_KM, CONNECTION_DB, SPLICE_DB = 0.4, 0.75, 0.3  # ISO/IEC 11801-1, cabled fibre and connecting hardware


def rows(plant, **named):
    """The headroom table as rows."""
    return headroom_table(plant.seen, **named).to_pylist()


def test_loss_is_the_sum_of_its_elements():
    """500 m of OS2, two connections, two pigtail splices and one joint: 0.2 + 1.5 + 0.9 dB (TIA-568.3-D figures)."""
    for row in rows(duplex(splices=1)):
        assert row["loss_db"] == approx(0.5 * OS2_DB_PER_KM + 2 * CONNECTION_DB + 3 * SPLICE_DB)
        assert row["headroom_db"] == approx(6.2 - 2.6)  # IEEE 802.3 cl. 52: 10GBASE-LR, 6.2 dB
        assert row["binding"] == "channel insertion loss"


def test_every_lane_of_wavelength_multiplexing_is_weighed():
    """40GBASE-LR4 runs four wavelengths each way (IEEE 802.3 cl. 87), each weighed."""
    found = rows(duplex("40GBASE-LR4"))
    assert sorted((r["direction"], r["wavelength_nm"]) for r in found) == [
        (d, nm) for d in ("a to b", "b to a") for nm in (1271.0, 1291.0, 1311.0, 1331.0)
    ]
    # shorter waves lose more in fibre (Rayleigh), so the first lane has the least room
    assert min(found, key=lambda r: r["headroom_db"])["wavelength_nm"] == 1271.0


def test_single_fibre_optics_run_a_wavelength_each_way():
    """1000BASE-BX10 sends 1490 nm down and 1310 nm up (IEEE 802.3 cl. 59), each against its own limit."""
    plant = duplex("1000BASE-BX10")
    plant.rows["interfaces"] = [r for r in plant.rows["interfaces"] if r["position"] == "Tx"]
    for row in plant.rows["interfaces"]:
        row["position"] = "TxRx"
        row["application"] = "1000BASE-BX10-D" if row["equipment"] == "SW1" else "1000BASE-BX10-U"
    plant.rows["patches"] = [r for r in plant.rows["patches"] if r["a_position"] == "Tx"]
    for row in plant.rows["patches"]:
        row |= {"a_position": "TxRx", "b_position": "A"}
    found = {r["direction"]: (r["wavelength_nm"], r["limit_db"]) for r in rows(plant)}
    assert found == {"a to b": (1490.0, approx(5.5)), "b to a": (1310.0, approx(6.0))}


def test_length_binds_where_it_is_exceeded():
    """100GBASE-DR goes 500 m (IEEE 802.3 cl. 140): over 600 m the length binds, by 100 m; decibels are left all the same."""
    (row, _) = rows(duplex("100GBASE-DR", length_m=600.0))
    assert (row["binding"], row["length_max_m"], row["over_m"]) == ("length", 500.0, approx(100.0))
    assert row["headroom_db"] == approx(row["limit_db"] - row["loss_db"])
    assert row["headroom_db"] == approx(3.0 - 0.6 * OS2_DB_PER_KM - 2 * 0.3 - 2 * 0.75)


def test_loss_binds_where_both_are_exceeded():
    """12 km of OS2 under 10GBASE-LR: 0.7 dB too much, and 2 km too long; the loss binds, the metres are told too."""
    (row, _) = rows(duplex("10GBASE-LR", length_m=12_000.0))
    assert (row["binding"], row["over_m"]) == ("channel insertion loss", approx(2000.0))
    assert row["headroom_db"] == approx(6.2 - 12 * 0.4 - 2 * 0.3 - 2 * 0.75)


@pytest.mark.parametrize(
    "application", ["1000BASE-SX", "10GBASE-SR", "10GBASE-LR", "100GBASE-DR", "1000BASE-LX", "nothing known"]
)
@pytest.mark.parametrize("length_m", [10.0, 290.0, 600.0, 12_000.0, float("nan")])
@pytest.mark.parametrize("margin_db", [0.0, 3.0])
def test_every_row_can_be_subtracted(application, length_m, margin_db):
    """Limit less loss less margin is the headroom, in every row that has one, whatever binds."""
    for fibre in ("OM3", "OS2"):
        table = headroom_table(duplex(application, fibre, length_m).seen, margin_db)
        for row in table.to_pylist():
            if row["headroom_db"] == row["headroom_db"]:
                assert row["headroom_db"] == approx(row["limit_db"] - row["loss_db"] - margin_db)
            over = row["length_m"] - row["length_max_m"]
            assert (row["over_m"] == approx(over)) if over > 0 else row["over_m"] != row["over_m"]


def test_power_budget_binds_where_it_is_smaller():
    """A weak optic leaves less than the channel limit: launch less receive less the standard's penalties."""
    (row, _) = rows(duplex("10GBASE-LR", launch_min_dbm=-9.0, receive_min_dbm=-12.0))
    assert row["binding"] == "power budget"
    assert row["power_budget_db"] == approx(-9.0 + 12.0 - (-8.2 + 14.4 - 6.2))


def test_too_much_light_is_told_with_the_attenuator_that_mends_it():
    """10GBASE-ER launches 4 dBm and bears -1 dBm (IEEE 802.3 cl. 52): over 500 m it needs 5 dB."""
    (row, _) = rows(duplex("10GBASE-ER"))
    least_db = 0.5 * 0.2  # typical 0.2 dB/km at 1550 nm, joints that lose nothing
    assert row["too_strong_db"] == approx(4.0 - least_db + 1.0)
    assert row["attenuator_db"] == 5.0
    assert not row["may_damage"]  # two hardware manuals print 4.0 dBm as the power that damages: no more arrives
    (row, _) = rows(duplex("10GBASE-ER", launch_max_dbm=4.2))
    assert row["may_damage"]  # 4.2 dBm less 0.1 dB of fibre
    (near, _) = rows(duplex("10GBASE-LR"))
    assert np.isnan(near["too_strong_db"]) and np.isnan(near["attenuator_db"]) and not near["may_damage"]


def test_no_attenuator_is_named_where_none_would_leave_enough():
    """Where the light is too strong at most and too weak at least, no attenuator mends it."""
    (row, _) = rows(
        duplex("10GBASE-ER", launch_max_dbm=14.0, launch_min_dbm=-4.7, receive_min_dbm=-15.8, receive_max_dbm=-1.0)
    )
    assert row["too_strong_db"] > row["headroom_db"] > 0
    assert np.isnan(row["attenuator_db"])


def test_margin_is_kept_from_every_headroom(tmp_path):
    """The firm's margin for ageing and repair is taken off; the default is nothing."""
    reg = register(duplex(), tmp_path / "r", choices=[{"choice": "margin_db", "value": "1,5"}])
    found = fibrebook.headroom(reg)
    assert (found["margin_db"] == 1.5).all()
    assert found["headroom_db"].to_numpy() == approx(6.2 - 1.5 - found["loss_db"].to_numpy())
    assert rows(duplex())[0]["margin_db"] == 0.0


def test_directions_differ_by_the_mismatch_alone():
    """62.5 um into 50 um loses 4.70 dB one way and nothing the other (Senior, ch. 5: core and aperture)."""
    found = {r["direction"]: r for r in rows(duplex("1000BASE-SX", via=[("OM1", 100.0), ("OM3", 100.0)]))}
    assert found["a to b"]["mismatch_db"] == approx(4.704, abs=5e-4)
    assert found["b to a"]["mismatch_db"] == 0.0
    assert found["a to b"]["loss_db"] - found["b to a"]["loss_db"] == approx(found["a to b"]["mismatch_db"])


def test_a_measured_joint_holds_its_mismatch_already():
    """Where the joint of two unlike fibres was measured, nothing is added to its figure."""
    plant = duplex("1000BASE-SX", via=[("OM1", 100.0), ("OM3", 100.0)])
    for row in plant.rows["splices"]:
        row |= {"loss_db": 2.0, "loss_basis": "measured"}
    assert [r["mismatch_db"] for r in rows(plant)] == [0.0, 0.0]


def test_a_connector_grade_replaces_the_standard_one():
    """Ports of grade B count with 0.25 dB (97 % figure of IEC 61753-1), others with 0.75 dB."""
    plant = duplex()
    standard = rows(plant)[0]["loss_db"]
    for row in plant.rows["ports"]:
        row["grade"] = "B"
    assert standard - rows(plant)[0]["loss_db"] == approx(2 * (CONNECTION_DB - 0.25))


@pytest.mark.parametrize(
    ("application", "fibre_class", "says"),
    [
        ("10GBASE-SR", "OS2", "not specified on this fibre"),
        ("10GBASE-LR", "OM3", "not specified on this fibre"),
        ("10GBASE-LR", None, "fibre class not known"),
        ("10GBASE-SR", "OM99", "not specified on this fibre"),
    ],
)
def test_what_cannot_run_is_named(application, fibre_class, says):
    """Multimode light on single-mode fibre and the reverse give no headroom but the reason."""
    for row in rows(duplex(application, fibre_class)):
        assert np.isnan(row["headroom_db"])
        assert row["binding"] == says


def test_an_impossible_choice_is_named(tmp_path):
    """A margin that is no number, and a choice that does not exist, are named before they are committed."""
    reg = register(duplex(), tmp_path / "r")
    for choice, words in (("margin_db", "'much' is not a number of dB"), ("colour", "there is no choice 'colour'")):
        with pytest.raises(RuleError, match=words), reg.edit(by="ts", why="test") as edit:
            edit.put("choices", [{"choice": choice, "value": "much"}])
    assert reg.table("choices").empty


LOSSES = st.floats(0.0, 2.0).map(lambda x: round(x, 3))


@settings(max_examples=30, deadline=None)
@given(losses=st.lists(st.one_of(st.none(), LOSSES), min_size=1, max_size=4), length_m=st.floats(1.0, 5000.0))
def test_loss_never_falls_by_adding_and_never_depends_on_order(losses, length_m):
    """Losses are never negative; one more joint never lowers the loss; their order never matters; both ways alike."""

    def loss_db(recorded):
        plant = duplex("10GBASE-LR", length_m=length_m, splices=len(recorded))
        for i, row in enumerate(plant.rows["splices"]):
            row |= {"loss_db": recorded[i % len(recorded)], "loss_basis": "estimated"}
        found = [r["loss_db"] for r in rows(plant)]
        assert found[0] == approx(found[1])
        assert found[0] >= 0
        return found[0]

    whole = loss_db(losses)
    assert loss_db(losses[::-1]) == approx(whole)
    if len(losses) > 1:
        assert loss_db(losses[:-1]) <= whole + 1e-9


def test_a_picture_tells_where_its_limit_comes_from(tmp_path):
    """Where the pointer rests on the limit, the picture names the standard and clause."""
    from fibrebook.drawings import headroom_bars

    picture = headroom_bars(fibrebook.headroom(register(duplex(), tmp_path / "r")))
    assert "<title>6.20 dB: IEEE 802.3 cl. 52" in picture.svg
