"""The light's formulas against worked examples of textbooks, and their properties."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import ofiber
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from fibrebook import light
from fibrebook.errors import ValueSourceError

AMOUNT = st.floats(0, 100)
DIAMETER = st.floats(3, 15)


# Worked examples: Senior, Optical Fiber Communications (companion code), unless another text is named.
def test_total_channel_loss() -> None:
    """Senior Ex. 12.5: 4 km at 5 + 2 dB/km, connectors 3.5 and 2.5 dB: 34 dB."""
    assert light.loss_db(4000, 5 + 2, [3.5, 2.5]) == approx(34)


@pytest.mark.parametrize(("receive_min_dbm", "published_km"), [(-55, 86), (-44, 64)])
def test_maximum_length(receive_min_dbm: float, published_km: float) -> None:
    """Senior Ex. 12.8 a and b: -3 dBm, 0.4 + 0.1 dB/km, connectors 2 dB, margin 7 dB: 86 km and 64 km."""
    assert light.reach_m(-3, receive_min_dbm, 0.5, 2, 7) == approx(published_km * 1000)


def test_excess_margin() -> None:
    """Senior Ex. 12.9: -10 and -41 dBm, 7 km at 2.6, 6 splices of 0.5, connectors 1.5, margin 6: 2.3 dB."""
    loss = light.loss_db(7000, 2.6, [1.5], [0.5] * 6)
    assert light.headroom_db(-10, -41, loss, margin_db=6) == approx(2.3)


def test_length_of_a_link() -> None:
    """Senior Ex. 12.13 b: 0 and -25 dBm, connectors 1.6, margin 7, 3.5 + 0.7 dB/km: 3.9 km (two figures)."""
    assert light.reach_m(0, -25, 4.2, 1.6, 7) == approx(3900, abs=50)


def test_allowed_loss() -> None:
    """Keiser, Optical Fiber Communications, Ex. 8.1: 6 km at 3.5, two connectors of 1 dB, margin 6: 29 dB."""
    assert light.loss_db(6000, 3.5, [1, 1], other_db=6) == approx(29)
    assert light.headroom_db(-13, -42, 23, 6) == approx(0)  # powers from memory


@pytest.mark.parametrize(("other_db", "published_db"), [([0.5], 7), ([0.5, 1.0], 6)])
def test_multimode_power_margin(other_db: list[float], published_db: float) -> None:
    """Two editions of a hardware handbook: 13 dB budget, 2 km at 1.0, 5 x 0.5, 2 x 0.5, mode loss (and clock)."""
    loss = light.loss_db(2000, 1.0, [0.5] * 5, [0.5] * 2, other_db)
    assert light.headroom_db(-15, -28, loss) == approx(published_db)


def test_single_mode_loss_with_margin() -> None:
    """A published planning note: 10 km at 0.35, one splice 0.01, two connectors 0.5, safety 3: 7.51 dB."""
    assert light.loss_db(10_000, 0.35, [0.5, 0.5], 0.01, 3) == approx(7.51)


@pytest.mark.parametrize(
    ("insertion_loss_db", "penalty_db", "left_db"),
    [(3.56, 3.57, 0.37), (2.60, 4.29, 0.61)],  # IEEE 802.3 Table 38-5: 0.37; and 0.60 by its own rounding (memory)
)
def test_unallocated_margin_of_1000base_sx(insertion_loss_db: float, penalty_db: float, left_db: float) -> None:
    """IEEE 802.3 cl. 38: 1000BASE-SX at 550 m and 275 m leaves the margin that its table calls unallocated."""
    assert light.headroom_db(-9.5, -17, insertion_loss_db, penalty_db=penalty_db) == approx(left_db)


def test_attenuation_behind_an_18_db_channel() -> None:
    """IEEE 802.3 single-mode ad hoc: 18 dB over 40 km with 2 dB of connections is 0.4 dB/km."""
    assert light.loss_db(40_000, 0.4, 2) == approx(18)


@pytest.mark.parametrize(("cable_db_per_km", "published_km"), [(1.0, 4), (0.5, 8), (0.4, 10)])
def test_reach_of_40gbase_lr4(cable_db_per_km: float, published_km: float) -> None:
    """Published 40GBASE-LR4 reaches (4, 8, 10 km) hold with 2.0 dB of connections inside 6.7 dB."""
    assert light.loss_db(published_km * 1000, cable_db_per_km, 2.0) == approx(6.0)
    assert light.reach_m(6.7, 0, cable_db_per_km, 2.0) > published_km * 1000


def test_practice_problem() -> None:
    """A textbook practice problem (0.1 mW, 0.5 km at 6, two connectors of 2, -35 dBm, margin 4): 14 dB [calculated]."""
    assert light.headroom_db(-10, -35, light.loss_db(500, 6, [2, 2]), margin_db=4) == approx(14)


@pytest.mark.parametrize(
    ("typical", "maximum", "typical_db", "maximum_db"),
    [(3, 3.5, 7.8, 11.05), (1, 1.5, 3.8, 7.05), (0.4, 1.0, 2.6, 6.05), (0.3, 1.0, 2.4, 6.05)],
)
def test_the_fibre_optic_associations_example(
    typical: float, maximum: float, typical_db: float, maximum_db: float
) -> None:
    """FOA's two-kilometre example, from memory: 5 connections of 0.3 (0.75), one splice of 0.3, at four wavelengths."""
    assert light.loss_db(2000, typical, [0.3] * 5, [0.3]) == approx(typical_db)
    assert light.loss_db(2000, maximum, [0.75] * 5, [0.3]) == approx(maximum_db)


def test_power_side_of_that_example() -> None:
    """FOA's example, power budget at 1300 nm, from memory: -16 and -31 dBm leave 11.2 and 7.95 dB."""
    assert light.headroom_db(-16, -31, [3.8, 7.05]) == approx(np.array([11.2, 7.95]))


@pytest.mark.parametrize(
    ("fibre", "wavelength_nm", "other", "total_db"),
    [
        ("OM2", 850, "", 8.8),
        ("OM2", 1300, "FOA loss budget defaults", 4.4),
        ("OS2", 1310, "", 3.45),
        ("OS2", 1550, "", 3.05),
    ],
)
def test_the_same_link_by_the_association_s_defaults(
    fibre: str, wavelength_nm: float, other: str, total_db: float
) -> None:
    """FOA's calculator defaults on that link [calculated]: 0.5 dB a connection, splices 0.3 (0.15 single-mode)."""
    from fibrebook.light.catalogue import attenuation_db_per_km, connection_db, splice_db

    per_km = attenuation_db_per_km(fibre, wavelength_nm, "typical", other or None)
    connection = connection_db(quantity="typical")
    splice = splice_db("", fibre, "typical")
    assert light.loss_db(2000, per_km, [connection] * 5, [splice]) == approx(total_db)


def test_the_square_root_of_two_in_spot_sizes() -> None:
    """Senior's spot size is smaller by the root of two: 2.17 (y / w)^2 there is 4.343 (d / w)^2 here."""
    w = 9.2 / 2
    assert light.offset_db(1.0, 9.2) == approx(2.17 * (1.0 / (w / math.sqrt(2))) ** 2, rel=1e-3)
    assert light.offset_db(1.0, 9.2) != approx(2.17 * (1.0 / w) ** 2, rel=0.1)  # the trap


def test_gap_of_equal_fibres() -> None:
    """Marcuse 1977 by hand: z = 20 um, w = 4.6 um, 1310 nm, n = 1: Z = 0.197, 0.165 dB [calculated]."""
    z = 20 * 1.31 / (2 * math.pi * 4.6**2)
    assert z == approx(0.197, abs=0.001)
    assert light.gap_db(20, 9.2, 1.0, 1310) == approx(10 * math.log10(1 + z * z)) == approx(0.165, abs=0.001)


def test_fresnel() -> None:
    """Senior Ex. 5.1: n = 1.5 against air, two faces: 0.35 dB (0.36 unrounded)."""
    assert 2 * light.fresnel_db(1.5, 1.0) == approx(0.36, abs=0.01)
    assert round(light.fresnel_db(1.5, 1.0), 2) == 0.18


@pytest.mark.parametrize(("index", "return_loss_db"), [(1.45, 14.7), (1.468, 14.4), (1.5, 14.0)])
def test_return_loss_of_an_air_gap(index: float, return_loss_db: float) -> None:
    """Glass against air reflects -14.7 dB (n = 1.45), the usual trade figure [others calculated]."""
    assert -light.reflectance_db(index, 1.0) == approx(return_loss_db, abs=0.05)


@pytest.mark.parametrize(
    ("core_um", "offset_um", "index", "matched_db", "air_db"),
    [(50, 5, 1.5, 0.59, 0.945), (40, 4, 1.47, 0.59, 0.91)],  # Senior Ex. 5.2; another text's Ex. 5.2.2
)
def test_multimode_offset(core_um: float, offset_um: float, index: float, matched_db: float, air_db: float) -> None:
    """Step-index offset of a tenth of the core's diameter: 0.59 dB matched, more with an air gap."""
    lost = light.multimode_offset_db(offset_um, core_um)
    assert lost == approx(matched_db, abs=0.005)
    assert lost + 2 * light.fresnel_db(index, 1) == approx(air_db, abs=0.01)


def test_multimode_graded_offset() -> None:
    """Senior Ex. 5.3: a = 25 um, y = 3 um, parabolic profile: 0.47 dB of guided modes, 0.41 dB with leaky ones."""
    assert light.multimode_graded_offset_db(3, 50) == approx(0.47, abs=0.005)
    assert light.multimode_graded_offset_db(3, 50, leaky=True) == approx(0.41, abs=0.005)
    with pytest.raises(ValueSourceError, match="parabolic"):
        light.multimode_graded_offset_db(3, 50, 1.9, leaky=True)


def test_multimode_alignment_allowance() -> None:
    """Palais, Fiber Optic Communications, Ex. 8.4, read from plots: 4.5 um, 2.4 degrees and 47 um cost 0.25 dB each."""
    assert light.multimode_offset_db(4.5, 100) == approx(0.25, abs=0.01)
    assert light.multimode_tilt_db(2.4, 0.24) == approx(0.25, abs=0.01)
    assert light.multimode_gap_db(47, 100, 0.24) == approx(0.25, abs=0.01)


def test_multimode_mismatch() -> None:
    """62.5 into 50 um: 1.94 dB by core, 2.77 by aperture, nothing the other way [calculated]."""
    core, aperture = light.multimode_core_mismatch_db(62.5, 50), light.multimode_aperture_mismatch_db(0.275, 0.2)
    assert (core, aperture, core + aperture) == (
        approx(1.94, abs=0.005),
        approx(2.77, abs=0.005),
        approx(4.70, abs=0.01),
    )
    assert light.multimode_core_mismatch_db(50, 62.5) == light.multimode_aperture_mismatch_db(0.2, 0.275) == 0.0


@pytest.mark.parametrize(
    ("found", "calculated"),
    [
        (light.mode_field_mismatch_db(9.2, 8.6), 0.020),
        (light.mode_field_mismatch_db(9.2, 8.8), 0.009),
        (light.offset_db(1.0, 9.2), 0.205),
        (light.offset_db(0.5, 9.2), 0.051),
        (light.tilt_db(1.0, 9.2, 1.46, 1310), 0.343),
        (light.tilt_db(0.5, 9.2, 1.46, 1310), 0.086),
    ],
)
def test_single_mode_joint_by_hand(found: float, calculated: float) -> None:
    """Values worked by hand from Marcuse's formulas, w = 4.6 um being half the mode-field diameter [calculated]."""
    assert found == approx(calculated, abs=0.0006)


@given(DIAMETER, DIAMETER, st.floats(0, 5), st.floats(0, 3), st.floats(1, 1.6), st.floats(1200, 1700))
def test_agrees_with_an_independent_library(
    a_um: float, b_um: float, offset_um: float, angle_deg: float, index: float, wavelength_nm: float
) -> None:
    """ofiber (general-purpose fibre optics library, metres and radii) gives the same losses."""
    w1, w2, d, nm = a_um / 2e6, b_um / 2e6, offset_um / 1e6, wavelength_nm / 1e9
    assert light.joint_db(a_um, b_um, offset_um) == approx(ofiber.transverse_misalignment_loss_db(w1, w2, d), abs=1e-9)
    assert light.mode_field_mismatch_db(a_um, b_um) == approx(
        ofiber.transverse_misalignment_loss_db(w1, w2, 0), abs=1e-9
    )
    assert light.offset_db(offset_um, a_um) == approx(ofiber.transverse_misalignment_loss_db(w1, w1, d), abs=1e-9)
    tilt = ofiber.angular_misalignment_loss_db(index, w1, np.radians(angle_deg), nm)
    assert light.tilt_db(angle_deg, a_um, index, wavelength_nm) == approx(tilt)
    assert light.joint_db(a_um, a_um, 0, angle_deg, index, wavelength_nm) == approx(tilt)
    gap = ofiber.longitudinal_misalignment_loss_db(index, w1, offset_um / 1e5, nm)
    assert light.gap_db(offset_um * 10, a_um, index, wavelength_nm) == approx(gap, abs=1e-9)
    assert light.fresnel_db(index, 1) == approx(-10 * np.log10(1 - ofiber.R_unpolarized(index, 0.0)), abs=1e-9)


def test_mode_field_of_a_step_index_core() -> None:
    """Marcuse's formula agrees with ofiber and refuses V numbers outside its range."""
    v = 2 * np.pi * 4.1 * 0.12 / 1.31
    assert light.mode_field_of_core_um(8.2, 0.12, 1310) == approx(8.2 * ofiber.MFR(v), rel=1e-6)
    with pytest.raises(ValueSourceError, match="single mode"):
        light.mode_field_of_core_um(50, 0.2, 850)


def test_scalars_give_floats_and_arrays_broadcast() -> None:
    """Scalars in, float out; arrays broadcast; a list of joints serves every path, a 2-D one each path its own."""
    assert type(light.loss_db(1000, 0.4)) is float
    assert type(light.tilt_db(1, 9.2, 1.46, 1310)) is float
    assert light.loss_db([1000, 2000], 0.4, [0.75, 0.75]) == approx(np.array([1.9, 2.3]))
    assert light.loss_db([1000, 2000], 0.4, [[0.75, 0.75], [0.5, 0]]) == approx(np.array([1.9, 1.3]))
    assert light.loss_db(1000, [[0.4], [3.5]]).shape == (2, 1)  # type: ignore[union-attr]
    assert light.loss_db(np.empty(0), 0.4).shape == (0,)  # type: ignore[union-attr]


def test_nothing_known_stays_nothing_known() -> None:
    """NaN passes through every formula and stays in its own place."""
    nan = float("nan")
    assert np.isnan(light.loss_db(nan, 0.4))
    found = light.headroom_db([-9.5, -9.5], -17, [1.0, nan])
    assert found[0] == approx(6.5) and np.isnan(found[1])  # type: ignore[index]
    for value in (
        light.reach_m(nan, -17, 3.5), light.mode_field_mismatch_db(nan, 9), light.offset_db(1, nan),
        light.tilt_db(nan, 9.2, 1.46, 1310), light.fresnel_db(nan, 1), light.gap_db(nan, 9, 1, 1310),
    ):  # fmt: skip
        assert np.isnan(value)


def test_zero_is_nothing_lost() -> None:
    """No length, no joints, no misalignment: exactly 0 dB, not minus zero."""
    for value in (
        light.loss_db(0, 3.5), light.mode_field_mismatch_db(9.2, 9.2), light.offset_db(0, 9.2),
        light.fresnel_db(1.46, 1.46),
        light.tilt_db(0, 9.2, 1.46, 1310), light.gap_db(0, 9.2, 1, 1310), light.multimode_offset_db(0, 50),
    ):  # fmt: skip
        assert value == 0 and not np.signbit(value)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: light.loss_db(-1, 0.4), "length_m = -1 is impossible"),
        (lambda: light.loss_db([10, float("inf")], 0.4), "length_m = inf is impossible: it must be finite"),
        (lambda: light.loss_db(1, -0.4), "attenuation_db_per_km = -0.4"),
        (lambda: light.loss_db(1, 0.4, [0.5, -0.1]), r"connections_db = -0.1 .*nothing passive gives light"),
        (lambda: light.loss_db(1, 0.4, (), -0.1), "splices_db = -0.1 .*two directions"),
        (lambda: light.loss_db("far", 0.4), "'far' is not a number"),
        (lambda: light.headroom_db(0, -20, -1), "loss_db = -1"),
        (lambda: light.headroom_db(0, -20, 1, margin_db=-1), "margin_db = -1"),
        (lambda: light.reach_m(0, -20, 0), "loss_per_km_db = 0 is impossible: it must be more than 0"),
        (lambda: light.mode_field_mismatch_db(0, 9), "a_um = 0"),
        (lambda: light.offset_db(-1, 9), "offset_um = -1"),
        (lambda: light.tilt_db(90, 9, 1.46, 1310), "angle_deg = 90"),
        (lambda: light.tilt_db(1, 9, 1.46, 0), "wavelength_nm = 0"),
        (lambda: light.fresnel_db(0.9, 1), "index_a = 0.9 .*faster than in a vacuum"),
        (lambda: light.multimode_offset_db(50, 50), "do not overlap"),
        (lambda: light.multimode_tilt_db(60, 0.2), "small misalignment"),
    ],
)
def test_impossible_values_are_named(call: Callable[[], object], says: str) -> None:
    """A value that cannot be is an error that names it and says why."""
    with pytest.raises(ValueSourceError, match=says):
        call()


@given(AMOUNT, AMOUNT, st.lists(AMOUNT, max_size=4), st.lists(AMOUNT, max_size=4), AMOUNT)
def test_loss_is_never_negative_and_grows(
    length_m: float, attenuation: float, connections: list[float], splices: list[float], more: float
) -> None:
    """A path never gains light, and whatever is added to it never lowers the loss."""
    loss = light.loss_db(length_m, attenuation, connections, splices)
    assert loss >= 0
    assert light.loss_db(length_m + more, attenuation, connections, splices) >= loss
    assert light.loss_db(length_m, attenuation, [*connections, more], splices) >= loss


@given(st.floats(-30, 10), st.floats(-50, -5), st.floats(0.1, 5), AMOUNT, AMOUNT)
def test_at_its_reach_nothing_is_left(
    launch: float, receive: float, per_km: float, fixed: float, margin: float
) -> None:
    """The headroom at the reach is nothing; where the reach is 0 there was none to begin with."""
    reach = light.reach_m(launch, receive, per_km, fixed, margin)
    left = light.headroom_db(launch, receive, light.loss_db(reach, per_km, fixed), margin)
    assert reach >= 0
    assert left == approx(0, abs=1e-9) if reach > 0 else left <= 1e-9


@given(DIAMETER, DIAMETER, st.floats(0, 5), st.floats(0, 5), st.floats(0, 3))
def test_joints_never_gain_and_worsen_with_misalignment(
    a_um: float, b_um: float, offset_um: float, more_um: float, angle_deg: float
) -> None:
    """Joint losses are never negative, the same both ways, and grow with every misalignment."""
    loss = light.joint_db(a_um, b_um, offset_um, angle_deg)
    assert loss >= 0
    assert loss == approx(light.joint_db(b_um, a_um, offset_um, angle_deg))
    assert light.joint_db(a_um, b_um, offset_um + more_um, angle_deg) >= loss - 1e-12
    assert light.joint_db(a_um, b_um, offset_um, angle_deg + 0.1) >= loss
