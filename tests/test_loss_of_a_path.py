"""The loss of a path: its parts add up, each says where it comes from, and what is likely is told beside the worst."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from light_plant import duplex, register
from pytest import approx
from scipy.stats import gamma

import fibrebook
from fibrebook.errors import NotFoundError, ValueSourceError
from fibrebook.light.moments import Moments, deviation_db, draw_sum_db, moments, point_db
from fibrebook.losses.distributions import connection_distribution


def test_contributions_add_up_to_the_headroom_table(tmp_path):
    """Both ways, with a mismatch, a recorded and a measured joint: the last sum is the loss that headroom tells."""
    plant = duplex("1000BASE-SX", via=[("OM1", 120.0), ("OM3", 80.0), ("OM3", 40.0)])
    plant.rows["splices"][1] |= {"loss_db": 0.21, "loss_basis": "measured", "made_by": "RK"}
    plant.rows["terminations"][0] |= {"loss_db": 0.03, "loss_basis": "estimated", "made_by": "EM"}
    reg = register(plant, tmp_path / "r")
    for row in fibrebook.headroom(reg).to_dict("records"):
        parts = fibrebook.contributions(reg, "S1", ("channel", "CH1", row["direction"]))
        assert parts["loss_db"].sum() == approx(row["loss_db"])
        assert parts["sum_db"].iloc[-1] == approx(row["loss_db"])
        for basis in ("measured", "recorded", "catalogue"):
            assert parts.loc[parts["basis"] == basis, "loss_db"].sum() == approx(row[f"{basis}_db"])
        assert (parts["source"] != "").all()


def test_every_part_names_its_source(tmp_path):
    """A published figure names its standard, a recorded one who made the joint."""
    plant = duplex()
    plant.rows["terminations"][0] |= {"loss_db": 0.03, "loss_basis": "estimated", "made_by": "EM"}
    parts = fibrebook.contributions(register(plant, tmp_path / "r"), "S1", ("channel", "CH1")).set_index("kind")
    assert "500 m x 0.4 dB/km" in parts.loc["core", "reckoning"]
    assert "ISO/IEC 11801-1" in parts.loc["core", "source"]
    assert parts.loc["pigtail splice", "reckoning"].iloc[0] == "estimated by EM on an unknown day"
    assert "mated pair" in parts.loc["connection", "source"].iloc[0]


def test_a_wrong_start_is_named(tmp_path):
    """A channel that does not exist, or a direction that is none, is named with what there is."""
    reg = register(duplex(), tmp_path / "r")
    with pytest.raises(NotFoundError, match="no channel 'CH9'; did you mean 'CH1'"):
        fibrebook.contributions(reg, "S1", ("channel", "CH9"))
    with pytest.raises(NotFoundError, match="is no start"):
        fibrebook.contributions(reg, "S1", ("channel", "CH1", "upwards"))


def test_deviation_follows_from_the_97_percent_figure():
    """Grade B: mean 0.12 dB, 97 % at or below 0.25 dB (IEC 61753-1), so 1.881 deviations are 0.13 dB."""
    mean, deviation = connection_distribution("B")
    assert mean == 0.12 and gamma.cdf(0.25, (mean / deviation) ** 2, scale=deviation**2 / mean) == approx(0.97)
    assert deviation_db(0.5, 0.4, 0.97) == 0.0  # a point below the mean gives no spread


def test_points_of_a_normal_and_of_an_exponential_loss():
    """Without skewness 97.7 % is two deviations; an exponential loss of mean 1 has its 99.9 % point at ln 1000."""
    normal = Moments(np.array([1.0]), np.array([0.04]), np.array([0.0]))
    assert point_db(normal, 0.977249868) == approx(1.4)
    assert point_db(moments([1.0], [1.0]), 0.999) == approx(np.log(1000.0), rel=1e-6)
    assert point_db(moments([1.0], [1.0]), 0.977249868) == approx(-np.log(1 - 0.977249868), rel=1e-6)


PUBLISHED = [  # mean and point [dB] of a share: IEC 61753-1 grades (from memory), ISO/IEC 11801:2002 random mating
    (0.12, 0.25, 0.97), (0.25, 0.5, 0.97), (0.5, 1.0, 0.97), (0.3, 0.6, 0.97), (0.35, 0.5, 0.95),
    (0.05, 0.1, 0.97), (0.2, 0.5, 0.97), (0.2, 0.4, 0.977249868), (0.35, 0.4, 0.977249868),
]  # fmt: skip


@pytest.mark.parametrize(("mean", "point", "share"), PUBLISHED)
def test_a_published_point_is_met(mean, point, share):
    """The spread solved from a mean and a point has that point, by its own quantile and by drawing lots."""
    sigma = float(deviation_db(mean, point, share))
    assert point_db(moments([mean], [sigma]), share)[0] == approx(point, rel=1e-6)
    assert gamma.ppf(share, (mean / sigma) ** 2, scale=sigma**2 / mean) == approx(point, rel=1e-6)
    drawn = draw_sum_db(mean, sigma, 400_000, 1)
    assert drawn.mean() == approx(mean, rel=0.01)
    assert np.quantile(drawn, share) == approx(point, rel=0.01)


def test_a_point_that_no_such_loss_has():
    """A point beyond an exponential's is not met but comes as near as joints come; one at the mean leaves no spread."""
    assert deviation_db(0.1, 0.6, 0.97) == approx(0.1)  # an exponential of mean 0.1 has its 97 % at 0.35
    assert deviation_db([0.1, 0.1], [0.1, 0.0], 0.97).tolist() == [0.0, 0.0]
    assert deviation_db(-0.02, 0.02, 0.97) == approx(0.04 / 1.880794, rel=1e-6)


@settings(max_examples=10, deadline=None)
@given(
    st.integers(0, 6),
    st.sampled_from(["", "B", "C", "D"]),
    st.floats(1.0, 9000.0),
    st.floats(0.0, 0.1),
)
def test_no_share_exceeds_the_worst_case(tmp_path_factory, splices, grade, length_m, recorded_db):
    """What 97.7 and 99.9 % do not exceed is never above the worst case beside it, by moments and by lots."""
    plant = duplex("10GBASE-LR", length_m=length_m, splices=splices)
    for port in plant.rows["ports"]:
        port["grade"] = grade or None
    for splice in plant.rows["splices"][::2]:
        splice |= {"loss_db": recorded_db, "loss_basis": "measured"}
    reg = register(plant, tmp_path_factory.mktemp("spread") / "r")
    spread = fibrebook.loss_spread(reg).iloc[0]
    lots = fibrebook.loss_by_lots(reg, "S1", "CH1").iloc[0]
    order = ["mean_db", "loss_97_7_db", "loss_99_9_db"]
    for row in (spread, lots):
        assert all(a <= b + 1e-9 for a, b in zip(row[order], [*row[order[1:]], spread["worst_db"]], strict=True))
    for column in order:
        assert lots[column] == approx(spread[column], abs=0.05)


@settings(max_examples=15, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0.01, 0.6), st.floats(0.1, 1.0)), min_size=3, max_size=12),
    st.integers(0, 2**32 - 1),
)
def test_moments_and_lots_agree(elements, seed):
    """The sum by moments and by 100,000 draws agree in mean, deviation and both points."""
    mean = np.array([m for m, _ in elements])
    deviation = mean * np.array([share for _, share in elements])
    each = moments(mean, deviation)
    sums = Moments(*(part.sum(keepdims=True) for part in each))
    drawn = draw_sum_db(mean, deviation, 100_000, seed)
    assert drawn.mean() == approx(sums.mean_db[0], rel=0.01)
    assert drawn.std() == approx(np.sqrt(sums.variance[0]), rel=0.03)
    for share in (0.977249868, 0.999):
        assert np.quantile(drawn, share) == approx(point_db(sums, share)[0], rel=0.05)


def test_spread_and_lots_of_a_channel_agree(tmp_path):
    """`loss_spread` and `loss_by_lots` tell one channel alike, and the worst case is beyond 99.9 %."""
    plant = duplex("10GBASE-LR", length_m=3000.0, splices=3)
    plant.rows["splices"][0] |= {"loss_db": 0.02, "loss_basis": "estimated"}
    reg = register(plant, tmp_path / "r")
    spread = fibrebook.loss_spread(reg).iloc[0]
    lots = fibrebook.loss_by_lots(reg, "S1", "CH1", trials=100_000).iloc[0]
    for column in ("mean_db", "deviation_db", "loss_97_7_db", "loss_99_9_db"):
        assert lots[column] == approx(spread[column], abs=0.02)
    assert spread["mean_db"] < spread["loss_97_7_db"] < spread["loss_99_9_db"] < spread["worst_db"]
    assert lots.equals(fibrebook.loss_by_lots(reg, "S1", "CH1", trials=100_000).iloc[0])


def test_a_gainer_s_reading_is_drawn_as_normal():
    """A mean below nothing keeps its mean and deviation; a deviation below nothing is refused."""
    assert draw_sum_db([-0.05], [0.02], 50_000, 1).mean() == approx(-0.05, abs=1e-3)
    with pytest.raises(ValueSourceError, match="deviation"):
        moments([0.1], [-0.1])
