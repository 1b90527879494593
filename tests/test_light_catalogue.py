"""Published values looked up for arrays: attenuation, joints, applications, their limits and powers."""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from fibrebook.errors import ValueSourceError
from fibrebook.light import catalogue, headroom_db, loss_db
from fibrebook.reference.fibres import fibre_classes, mode_of

NAN = float("nan")


@pytest.mark.parametrize(
    ("fibre_class", "wavelength_nm", "db_per_km"),
    [
        # ISO/IEC 11801-1 and TIA-568.3-D, cabled fibre, maximum
        ("OM1", 850, 3.5), ("OM1", 1300, 1.5), ("OM2", 850, 3.5), ("OM2", 1300, 1.5),
        ("OM3", 850, 3.5), ("OM3", 1300, 1.5),
        ("OM4", 850, 3.5), ("OM4", 1300, 1.5), ("OM5", 850, 3.0), ("OM5", 1300, 1.5),
        ("OS1", 1310, 1.0), ("OS1", 1550, 1.0),
        ("OS1a", 1310, 1.0), ("OS1a", 1383, 1.0), ("OS1a", 1550, 1.0), ("OS2", 1310, 0.4),
        ("OS2", 1383, 0.4), ("OS2", 1550, 0.4),
        # ITU-T G.652 Table 2 and G.657 Tables 1 and 2 (memory): ranges, the narrower one going first
        ("G.652.D", 1310, 0.4), ("G.652.D", 1490, 0.4), ("G.652.D", 1550, 0.3),
        ("G.652.D", 1625, 0.4), ("G.657.A2", 1550, 0.3),
        ("G.657.B3", 1310, 0.5),
    ],
)  # fmt: skip
def test_maximum_attenuation(fibre_class: str, wavelength_nm: float, db_per_km: float) -> None:
    """The default maximum of every class is the published one, the stricter where sources differ."""
    assert catalogue.attenuation_db_per_km(fibre_class, wavelength_nm) == db_per_km


def test_attenuation_by_choice_and_grade() -> None:
    """A firm's choice and another grade give their own published values."""
    assert catalogue.attenuation_db_per_km("OM4", 850, choice="TIA-568.3-D") == 3.0
    assert catalogue.attenuation_db_per_km("OM1", 850, choice="TIA-568.3-D") == 3.5
    assert catalogue.attenuation_db_per_km("OM3", [850, 1300], "typical") == approx(np.array([3.0, 1.0]))  # FOA
    assert catalogue.attenuation_db_per_km("OS2", [1310, 1550], "typical") == approx(np.array([0.4, 0.2]))  # FOA
    assert catalogue.attenuation_db_per_km("OM1", 850, "link model") == 3.75  # IEEE 802.3 Table 38-12
    with pytest.raises(ValueSourceError, match=r"'best'.*maximum, typical"):
        catalogue.attenuation_db_per_km("OM3", 850, "best")


def test_1300_and_1310_serve_each_other() -> None:
    """A multimode value at 1300 nm serves 1310 nm and a single-mode one at 1310 nm serves 1300 nm."""
    assert catalogue.attenuation_db_per_km(["OM3", "OM1", "OS2", "OS1a"], [1310, 1305, 1300, 1300]) == approx(
        np.array([1.5, 1.5, 0.4, 1.0])
    )


def test_between_published_wavelengths_as_rayleigh_scattering() -> None:
    """Between two published wavelengths the value is linear in wavelength^-4 (Senior, ch. 3).

    What ISO/IEC 11801-1 prints for OM5 at 953 nm (2.3 dB/km, memory) lies on that line to 0.03 dB/km.
    """
    share = (850**-4 - 1000**-4) / (850**-4 - 1300**-4)
    assert catalogue.attenuation_db_per_km("OM3", 1000) == approx(3.5 + share * (1.5 - 3.5))
    share = (850**-4 - 953**-4) / (850**-4 - 1300**-4)
    assert catalogue.attenuation_db_per_km("OM5", 953) == approx(3.0 + share * (1.5 - 3.0), abs=0.03)
    assert catalogue.attenuation_db_per_km("OS2", 1490) == approx(0.4)
    assert 0.4 < catalogue.attenuation_db_per_km("OS2", 1271) < 0.47  # ITU-T G.652 note on 1260 nm (memory)


def test_the_window_s_second_name_does_not_bend_the_law() -> None:
    """From 1260 to 1310 nm the attenuation falls all the way (Rayleigh scattering): 1300 nm is no point of it.

    At 1271 and 1291 nm the figure is that of the line in wavelength^-4 between the published ends.
    """
    ends = catalogue.attenuation_db_per_km("OS2", [1260, 1310])
    for wavelength_nm in (1271.0, 1291.0, 1299.0, 1305.0):
        share = (1260**-4 - wavelength_nm**-4) / (1260**-4 - 1310**-4)
        found = catalogue.attenuation_db_per_km("OS2", wavelength_nm)
        assert found == approx(ends[0] + share * (ends[1] - ends[0]))  # type: ignore[index]


def test_off_the_table_is_nan_and_named() -> None:
    """What is not published is NaN in its own place, and each reason is told once."""
    classes, wavelengths = ["OM3", "OS2", "OM3", "mystery", "", None], [1550, 1310, 1550, 850, 850, NAN]
    found = catalogue.attenuation_db_per_km(classes, wavelengths)
    assert np.isnan(found).tolist() == [True, False, True, True, True, True]  # type: ignore[union-attr]
    reasons = catalogue.no_attenuation_because(classes, wavelengths)
    assert len(reasons) == 3
    assert any("OM3 at 1550 nm: published from 850 to 1300 nm only" in reason for reason in reasons)
    assert any("'mystery' is not known" in reason for reason in reasons)
    assert catalogue.no_attenuation_because("OS2", 1310) == []


def test_every_value_names_its_source() -> None:
    """Each looked-up attenuation tells its publisher and basis; NaN tells none."""
    told = catalogue.attenuation_source(["OM5", "OM3", "OM5"], [850, 1550, 1000])
    assert told[0].startswith("ISO/IEC 11801-1:2017") and told[0].endswith(
        "(seen in a secondary text: a cabling supplier's page on the standard)"
    )
    assert told[1] == ""
    assert told[2].endswith("between, as wavelength^-4")


def test_lists_arrow_and_numpy_give_the_same() -> None:
    """Lists, object arrays, pyarrow arrays (encoded, chunked, with nulls) are all looked up alike."""
    classes, wavelengths = ["OM3", "OS2", None, "om3"], np.array([850, 1310, 850, 850])
    expected = [3.5, 0.4, NAN, 3.5]
    arrow = pa.array(classes)
    for given_classes in (
        classes,
        np.array(classes, object),
        arrow,
        arrow.dictionary_encode(),
        pa.chunked_array([arrow]),
    ):
        found = catalogue.attenuation_db_per_km(given_classes, wavelengths)
        assert found == approx(np.array(expected), nan_ok=True)
    assert type(catalogue.attenuation_db_per_km("OM3", 850)) is float
    assert catalogue.attenuation_db_per_km([], np.empty(0)).shape == (0,)  # type: ignore[union-attr]


@given(st.sampled_from(fibre_classes()), st.floats(600, 1700), st.sampled_from(["maximum", "typical", "link model"]))
def test_attenuation_is_positive_or_unknown(fibre_class: str, wavelength_nm: float, grade: str) -> None:
    """At any wavelength the answer is a sensible positive figure or NaN with a reason."""
    found = catalogue.attenuation_db_per_km(fibre_class, wavelength_nm, grade)
    reasons = catalogue.no_attenuation_because(fibre_class, wavelength_nm, grade)
    assert (0 < found < 5 and not reasons) or (np.isnan(found) and len(reasons) == 1)


def test_connection_losses() -> None:
    """Mated pairs: 0.75 dB standard grade, the reference grade's own limits, the grades of IEC 61753-1."""
    assert catalogue.connection_db() == 0.75  # TIA-568.3-D/E, ISO/IEC 11801-1
    assert catalogue.connection_db(["OM3", "OS2", "unknown"]) == approx(np.array([0.75] * 3))
    # reference grade to standard grade, TIA-568.3-E: 0.50 both; 568.3-D: 0.30 multimode, 0.50 single-mode
    assert catalogue.connection_db(["OM3", "OS2"], grade="reference to standard") == approx(np.array([0.5, 0.5]))
    assert catalogue.connection_db(["OM3", "OS2"], grade="reference to standard", choice="TIA-568.3-D") == approx(
        np.array([0.3, 0.5])
    )
    assert catalogue.connection_db("OS2", "mean", "C") == 0.25  # IEC 61753-1 (memory)
    assert catalogue.connection_db("OS2", "97 %", "C") == 0.5
    assert np.isnan(catalogue.connection_db("OM3", "mean", "C"))
    assert catalogue.connection_db("OM4", "typical", array=True) == 0.75  # FOA defaults
    assert catalogue.connection_db("OS2", choice="a client's cabling specification") == 0.2
    with pytest.raises(ValueSourceError, match="quantity 'best'"):
        catalogue.connection_db("OS2", "best")


def test_splice_losses() -> None:
    """Splices: 0.3 dB limit of any kind (ISO/IEC 11801-1, TIA-568.3-D), FOA's typical values by mode."""
    assert catalogue.splice_db(["fusion", "mechanical", "", None]) == approx(np.array([0.3] * 4))
    assert catalogue.splice_db("fusion", ["OS2", "OM3"], "typical") == approx(np.array([0.15, 0.3]))
    assert type(catalogue.splice_db("fusion")) is float
    with pytest.raises(ValueSourceError, match=r"'glue'.*fusion, mechanical"):
        catalogue.splice_db("glue")


# IEEE 802.3 clauses 26, 38, 52, 59, 68, 86, 87, 88, 95, 112, 114, 140 (basis of each in the table)
@pytest.mark.parametrize(
    ("application", "fibre_class", "length_m", "loss_db"),
    [
        ("100BASE-FX", "OM1", 2000, 11.0), ("100BASE-FX", "OM2", 2000, 6.0),
        ("1000BASE-SX", "62.5/160", 220, 2.38), ("1000BASE-SX", "OM1", 275, 2.60), ("1000BASE-SX", "50/400", 500, 3.37),
        ("1000BASE-SX", "OM2", 550, 3.56), ("1000BASE-SX", "OM3", 550, 3.56), ("1000BASE-SX", "OM4", 550, 3.56),
        ("1000BASE-LX", "OM1", 550, 2.35), ("1000BASE-LX", "OS1a", 5000, 4.57), ("1000BASE-LX", "OS2", 5000, 4.57),
        ("1000BASE-LX10", "OS2", 10000, 6.0), ("1000BASE-LX10", "OM2", 550, 2.4),
        ("10GBASE-SR", "62.5/160", 26, 1.6), ("10GBASE-SR", "OM1", 33, 1.6), ("10GBASE-SR", "50/400", 66, 1.7),
        ("10GBASE-SR", "OM2", 82, 1.8), ("10GBASE-SR", "OM3", 300, 2.6), ("10GBASE-SR", "OM4", 400, 2.9),
        ("10GBASE-LRM", "OM3", 220, 1.9), ("10GBASE-LR", "OS2", 10000, 6.2), ("10GBASE-LR", "OS1a", 10000, 6.2),
        ("10GBASE-ER", "OS2", 30000, 10.9), ("25GBASE-SR", "OM4", 100, 1.9), ("25GBASE-LR", "OS2", 10000, 6.3),
        ("40GBASE-SR4", "OM3", 100, 1.9), ("40GBASE-SR4", "OM4", 150, 1.5), ("40GBASE-LR4", "OS2", 10000, 6.7),
        ("40GBASE-LR4", "OS1a", 4000, 6.7), ("100GBASE-SR4", "OM4", 100, 1.9), ("100GBASE-LR4", "G.652.D", 10000, 6.3),
        ("100GBASE-DR", "OS2", 500, 3.0),
    ],
)  # fmt: skip
def test_application_limits(application: str, fibre_class: str, length_m: float, loss_db: float) -> None:
    """Length and insertion loss of each application on each fibre are the published ones, with their source."""
    found = catalogue.limits(application, fibre_class)
    assert (found.length_max_m[0], found.insertion_loss_max_db[0]) == (length_m, loss_db)
    assert found.source[0].startswith("IEEE 802.3")


def test_limits_by_choice() -> None:
    """10GBASE-SR on old multimode: TIA's 2.4 and 2.3 dB by choice, IEEE's stricter figures by default."""
    tia = catalogue.limits("10GBASE-SR", ["OM1", "OM2", "OM3"], choice="TIA-568.0-D")
    assert tia.insertion_loss_max_db.tolist() == [2.4, 2.3, 2.6]


def test_limits_where_there_are_none() -> None:
    """An application on a fibre it is not specified for, or an unknown name, has no limit and no source."""
    found = catalogue.limits(
        ["10GBASE-LR", "1000BASE-SX", "25GBASE-SR", "mystery", "", None], ["OM3", "OS2", "OM1", "OM3", "OM3", None]
    )
    assert np.isnan(found.insertion_loss_max_db).all() and np.isnan(found.length_max_m).all()
    assert found.source.tolist() == [""] * 6


def test_single_fibre_optics_have_a_wavelength_for_each_direction() -> None:
    """1000BASE-BX10: -D sends 1490, -U sends 1310 nm; the plain name is the pair; limits differ by direction."""
    down, up, pair = (catalogue.application(f"1000BASE-BX10{end}") for end in ("-D", "-U", ""))
    assert (down.wavelengths_nm, down.receive_wavelengths_nm) == ((1490,), (1310,))
    assert (up.wavelengths_nm, up.receive_wavelengths_nm) == ((1310,), (1490,))
    assert (pair.wavelengths_nm, pair.wavelengths_are, pair.fibres) == ((1490, 1310), "directions", 1)
    assert {down.family, up.family, pair.family} == {"1000BASE-BX10"}
    for name in (down.name, up.name, pair.name):
        assert catalogue.limits(name, "OS2", [1490, 1310, NAN, 850]).insertion_loss_max_db == approx(
            np.array([5.5, 6.0, 5.5, NAN]), nan_ok=True
        )


def test_lanes_are_not_directions() -> None:
    """40GBASE-LR4 sends four wavelengths in one direction; parallel types send one wavelength on several fibres."""
    assert catalogue.application("40GBASE-LR4").wavelengths_are == "lanes"
    assert catalogue.application("40GBASE-LR4").wavelengths_nm == (1271, 1291, 1311, 1331)
    assert (catalogue.application("40GBASE-SR4").fibres, catalogue.application("40GBASE-SR4").lanes) == (8, 4)


@pytest.mark.parametrize(
    ("text", "name"),
    [("1000Base-LX", "1000BASE-LX"), ("1000BASE-LX/LH", "1000BASE-LX"), ("10g sr", "10GBASE-SR"),
     ("10GBASE_LR", "10GBASE-LR"),
     ("1000base-bx-d", "1000BASE-BX10-D"), ("token ring", None), ("", None), (None, None)],
)  # fmt: skip
def test_application_names_are_read(text: object, name: str | None) -> None:
    """Loose spelling and usual short forms lead to the application; anything else is None."""
    assert catalogue.application_name(text) == name


def test_unknown_application_names_the_nearest() -> None:
    """A misspelt application is an error that offers the nearest names."""
    with pytest.raises(ValueSourceError, match=r"'10GBASE-SQ'.*10GBASE-SR"):
        catalogue.application("10GBASE-SQ")


@pytest.mark.parametrize("name", catalogue.applications())
def test_applications_hang_together(name: str) -> None:
    """Each application's wavelengths, fibres, modes, powers and limits agree with one another."""
    one = catalogue.application(name)
    assert one.name == name and one.wavelengths_nm and one.receive_wavelengths_nm
    assert one.fibres == 1 if one.wavelengths_are == "directions" else one.fibres >= 1
    assert not one.launch_min_dbm > one.launch_max_dbm and not one.receive_min_dbm > one.receive_max_dbm
    assert not one.damage_dbm < one.receive_max_dbm
    classes = fibre_classes()
    found = catalogue.limits(name, classes)
    specified = ~np.isnan(found.insertion_loss_max_db)
    assert specified.any()
    assert {mode_of(c) for c, has in zip(classes, specified, strict=True) if has} == set(one.modes)
    assert (np.isnan(found.length_max_m) == ~specified).all()
    fibre_alone = (
        catalogue.attenuation_db_per_km(classes, one.wavelengths_nm[0], "link model") * found.length_max_m / 1000
    )
    assert not (fibre_alone > found.insertion_loss_max_db).any()


def test_powers_by_fibre() -> None:
    """100BASE-FX launches less into a 50 um core (ISO/IEC 9314-3, memory); a blank class gives the poorest case."""
    found = catalogue.powers("100BASE-FX", ["OM1", "OM2", "OM4", "OS2", ""])
    assert found.launch_min_dbm == approx(np.array([-20, -23.5, -23.5, NAN, -23.5]), nan_ok=True)
    assert catalogue.powers("1000BASE-LX", ["OM1", "OS2"]).launch_min_dbm == approx(np.array([-11.5, -11.0]))
    assert np.isnan(catalogue.powers("10GBASE-LRM", "OM3").receive_min_dbm[0])  # published as modulation amplitude


def test_penalty_joins_power_budget_and_channel_limit() -> None:
    """At a channel's full insertion loss the power budget less penalty leaves nothing, or what IEEE leaves over."""
    names = ["1000BASE-SX", "1000BASE-LX", "1000BASE-LX10", "10GBASE-SR", "10GBASE-LR", "1000BASE-BX10"]
    classes = ["OM2", "OS2", "OS2", "OM3", "OS2", "OS2"]
    limit, power = catalogue.limits(names, classes), catalogue.powers(names, classes)
    left = headroom_db(
        power.launch_min_dbm, power.receive_min_dbm, limit.insertion_loss_max_db, penalty_db=limit.penalty_db
    )
    # 0.37 and 0.16: left unallocated in IEEE 802.3 Tables 38-5 and 38-9 (from memory)
    assert left == approx(np.array([0.37, 0.16, 0, 0, 0, 0]), abs=1e-9)


def test_1000base_lx_allocates_its_power_budget() -> None:
    """Loss, penalties and what is left unallocated make the power budget of each fibre (IEEE 802.3 Table 38-9, memory)."""
    for name, penalty_db, unallocated_db, budget_db in [
        ("OM1", 3.48, 1.67, 7.5), ("50/400", 5.08, 0.07, 7.5), ("OM2", 3.96, 1.19, 7.5), ("OS2", 3.27, 0.16, 8.0),
    ]:  # fmt: skip
        limit, power = catalogue.limits("1000BASE-LX", name), catalogue.powers("1000BASE-LX", name)
        assert power.launch_min_dbm - power.receive_min_dbm == approx(budget_db)
        assert limit.penalty_db == approx(penalty_db)
        assert limit.insertion_loss_max_db + penalty_db + unallocated_db == approx(budget_db)


def test_acceptance_limits_of_two_standards() -> None:
    """TIA-568.3-D: OM3 200 m, 2 pairs: 2.20 dB; ISO/IEC 14763-3:2006: OS2 500 m, 2 end pairs, 2 splices: 1.80 dB [calc]."""
    om3 = loss_db(200, catalogue.attenuation_db_per_km("OM3", 850), [catalogue.connection_db("OM3")] * 2)
    assert om3 == approx(2.20)
    ends = catalogue.connection_db("OS2", "97 %", "reference to standard", "ISO/IEC 14763-3:2006")
    os2 = loss_db(
        500, catalogue.attenuation_db_per_km("OS2", 1310), [ends] * 2, catalogue.splice_db(["fusion"] * 2, "OS2")
    )
    assert os2 == approx(1.80)
