"""How well the firm splices: groups, shares, and the control chart against a published example."""

from __future__ import annotations

import datetime as dt

import hypothesis.strategies as st
import pandas as pd
import pytest
import splices_by_plain_loop as plain
from hypothesis import given, settings
from light_plant import duplex, register
from plants import tables_of
from pytest import approx

import fibrebook
from fibrebook.errors import NotFoundError
from fibrebook.light.control_chart import individuals_chart, outside
from fibrebook.records import to_frame
from fibrebook.snapshot.snapshot import PlantSnapshot


def test_individuals_chart_of_a_published_example():
    """Ten flow rates (NIST/SEMATECH e-Handbook of Statistical Methods, individuals chart; figures from memory)."""
    chart = individuals_chart([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1], 3 / 1.128, 3.267)
    assert chart.centre == approx(50.81)
    assert chart.range_centre == approx(1.8778, abs=1e-4)
    assert (chart.lower, chart.upper) == (approx(45.8159, abs=1e-3), approx(55.8041, abs=1e-3))


def test_one_value_has_no_limits():
    """With fewer than two values nothing can be said of the spread."""
    chart = individuals_chart([0.05], 2.66, 3.267)
    assert chart.centre == 0.05 and chart.upper != chart.upper


@pytest.fixture
def reg(tmp_path):
    """Ten splices: RK with machine F1 in January, TB with F2 in March; one of TB's is bad, one was measured."""
    plant = duplex(splices=5)
    for i, row in enumerate(plant.rows["splices"]):
        rk = i < 6
        row |= {
            "loss_db": [0.02, 0.04, 0.03, 0.05, 0.02, 0.04, 0.03, 0.02, 0.03, 0.45][i], "loss_basis": "estimated",
            "made_by": "RK" if rk else "TB", "splicer": "F1" if rk else "F2",
            "made_on": dt.date(2026, 1, 10 + i) if rk else dt.date(2026, 3, i),
        }  # fmt: skip
    plant.rows["splices"][8] |= {"loss_basis": "measured"}
    return register(plant, tmp_path / "r")


def test_by_engineer(reg):
    """Estimated and measured stand apart; mean, share over the usual 0.1 dB and losses without a figure are told."""
    found = fibrebook.splice_quality(reg, "engineer").set_index(["group", "basis"])
    assert found.loc[("RK", "estimated"), "splices"] == 6
    assert found.loc[("RK", "estimated"), "mean_db"] == approx(0.2 / 6)
    assert found.loc[("TB", "estimated"), "over"] == 1 and found.loc[("TB", "estimated"), "over_share"] == approx(1 / 3)
    assert found.loc[("TB", "measured"), "splices"] == 1
    assert found.loc[("RK", "estimated"), "limit_db"] == 0.1


@pytest.mark.parametrize(("by", "groups"), [("splicer", {"F1", "F2"}), ("month", {"2026-01", "2026-03"})])
def test_by_machine_and_month(reg, by, groups):
    """The same splices by splicing machine and by month."""
    found = fibrebook.splice_quality(reg, by)
    assert set(found["group"]) == groups
    assert found["splices"].sum() == 10


def test_by_cable_a_splice_counts_for_both(reg):
    """Each of ten splices joins two cables, so the counts add up to twenty."""
    found = fibrebook.splice_quality(reg, "cable")
    assert found["splices"].sum() == 20
    assert "S1: C1" in set(found["group"])


def test_the_chart_names_what_is_outside(tmp_path):
    """Thirty like splices and one at 0.45 dB: that one is outside the limits, and only that one."""
    plant = duplex(splices=15)
    for i, row in enumerate(plant.rows["splices"]):
        row |= {"loss_db": 0.45 if i == 20 else 0.03 + 0.01 * (i % 2), "loss_basis": "estimated", "made_by": "RK"}
        row["made_on"] = dt.date(2026, 1, 1) + dt.timedelta(days=i)
    reg = register(plant, tmp_path / "r")
    chart = fibrebook.splice_chart(reg, group="RK")
    high = chart[chart["outside"] & (chart["loss_db"] > 0.1)]
    assert high["loss_db"].tolist() == [0.45]
    assert chart["made_on"].is_monotonic_increasing
    assert fibrebook.splice_quality(reg).iloc[0]["outside"] == chart["outside"].sum()
    with pytest.raises(NotFoundError, match="there are: RK"):
        fibrebook.splice_chart(reg, group="ZZ")


def test_an_unknown_grouping_is_named(reg):
    """Only the four groupings are offered."""
    with pytest.raises(NotFoundError, match="engineer, splicer, month, cable"):
        fibrebook.splice_quality(reg, "weather")


def test_the_chart_is_drawn_with_what_is_outside(tmp_path):
    """The picture has a cross for each splice outside the limits, a dot for each other, and says so in words."""
    from fibrebook.drawings import control_chart

    plant = duplex(splices=15)
    for i, row in enumerate(plant.rows["splices"]):
        row |= {"loss_db": 0.45 if i == 20 else 0.03 + 0.01 * (i % 2), "loss_basis": "estimated", "made_by": "RK"}
        row["made_on"] = dt.date(2026, 1, 1) + dt.timedelta(days=i)
    chart = fibrebook.splice_chart(register(plant, tmp_path / "r"), group="RK")
    picture = control_chart(chart)
    out = int(chart["outside"].sum())
    assert picture.svg.count("<circle") == 30 - out
    assert picture.told.startswith(f"30 splices, {out} outside the limits")
    assert control_chart(chart.iloc[:0]).told == "0 splices, 0 outside the limits"
    assert "not known" in control_chart(chart.iloc[:1].assign(upper_db=float("nan"), lower_db=float("nan"))).told


def test_like_values_are_never_outside():
    """Ten splices of exactly 0.1 dB: rounding in their mean puts none of them outside."""
    values = [0.1] * 10
    assert not outside(values, individuals_chart(values, 2.66, 3.267)).any()


@pytest.mark.parametrize("sign", [1, -1])
def test_a_slow_drift_leaves_the_limits_on_either_side(sign):
    """Each step is small, yet the last value is beyond mean -+ 2.66 x mean step (0.0786 -+ 0.0222 by hand)."""
    values = [sign * v for v in (0.10, 0.10, 0.09, 0.08, 0.07, 0.06, 0.05)]
    assert outside(values, individuals_chart(values, 2.66, 3.267)).tolist() == [False] * 6 + [True]


BLANK = st.none()
MADE = st.fixed_dictionaries(
    {
        "enclosure": st.sampled_from(("J1", "J 2", "Ø")),
        "loss_db": BLANK | st.sampled_from((-0.02, 0.01, 0.02, 0.03, 0.1, 0.11, 0.4)) | st.floats(-1, 5, width=32),
        "loss_basis": st.sampled_from((None, "estimated", "measured")),
        "made_on": BLANK | st.dates(dt.date(2025, 11, 1), dt.date(2026, 2, 28)),
        "made_by": st.sampled_from((None, "RK", "TB", "é")),
        "splicer": st.sampled_from((None, "F1", "F2")),
    }
)
CABLE = st.sampled_from(("C1", "C2", "C/3"))
JOINTS = st.lists(
    st.tuples(st.sampled_from(("S1", "S2")), st.sampled_from(("1", "1/2")), CABLE, CABLE, MADE), max_size=30
)
METHOD = st.sampled_from((None, "spliced pigtail", "field-fitted"))
PIGTAILS = st.lists(
    st.tuples(st.sampled_from(("S1", "S2")), st.sampled_from(("", "A")), CABLE, METHOD, MADE), max_size=20
)


@settings(max_examples=60, deadline=None)
@given(JOINTS, PIGTAILS, st.sampled_from(("engineer", "splicer", "month", "cable")))
def test_the_whole_table_tells_what_a_plain_loop_tells(joints, pigtails, by):
    """Every figure of the summary and every splice of the chart, in its order, as when reckoned row by row."""
    rows = {
        "splices": [
            {"site": site, "tray": tray, "slot": str(i), "a_cable": a, "a_core": i, "b_cable": b, "b_core": i, **made}
            for i, (site, tray, a, b, made) in enumerate(joints, 1)
        ],
        "terminations": [
            {"site": site, "port": str(i), "position": position, "cable": c, "core": i, "method": method, **made}
            for i, (site, position, c, method, made) in enumerate(pigtails, 1)
        ],
    }  # fmt: skip
    seen = PlantSnapshot(tables_of(rows, coded=True))
    lists = (seen.table(n).to_pylist() for n in ("splices", "terminations"))
    told = plain.splices(*lists, by)
    for found, expected in (
        (to_frame(fibrebook.splice_quality.of(seen, by)), plain.quality(told)),
        (to_frame(fibrebook.splice_chart.of(seen, by)), plain.charted(told)),
    ):
        wanted = pd.DataFrame(expected, columns=found.columns)
        for name in found.columns:
            if found[name].dtype.kind == "f":
                assert found[name].tolist() == approx(wanted[name].tolist(), rel=1e-9, abs=1e-12, nan_ok=True), name
            else:
                assert (
                    found[name].astype(str).tolist() == wanted[name].astype(found[name].dtype).astype(str).tolist()
                ), name
