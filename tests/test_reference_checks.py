"""Every reference value is checked against something independent of it, or CHECKS.md says why it is not.

The checks themselves are `fibrebook.reference.check`; here they are run, walked, and tried with wrong values.
"""

from __future__ import annotations

import math

import ofiber
import pytest
from pytest import approx

from fibrebook.reference import tables
from fibrebook.reference.check.__main__ import main
from fibrebook.reference.check.document import unheld, written
from fibrebook.reference.check.glass import silica_group_index
from fibrebook.reference.check.held import key, shipped_tables
from fibrebook.reference.check.planted import not_held, plants
from fibrebook.reference.check.second_readings import matches, readings
from fibrebook.reference.check.walk import CHECKS, excuses, walk

TABLES = shipped_tables()
# Wrong values that somebody may well put in: table, column, conditions of the row.
PLANTED = [
    ("application_powers", "receive_min_dbm", {"application": "1000BASE-SX"}),
    ("application_powers", "receive_min_dbm", {"application": "1000BASE-LX", "fibre": "single-mode"}),
    ("application_powers", "receive_min_dbm", {"application": "10GBASE-SR"}),
    ("application_powers", "receive_min_dbm", {"application": "10GBASE-LR"}),
    ("application_powers", "receive_min_dbm", {"application": "10GBASE-ER"}),
    ("application_powers", "receive_min_dbm", {"application": "100BASE-FX", "fibre": "50 um"}),
    ("application_powers", "launch_min_dbm", {"application": "100GBASE-LR4"}),
    ("application_powers", "receive_max_dbm", {"application": "10GBASE-ER"}),
    ("application_powers", "damage_dbm", {"application": "10GBASE-ER"}),
    ("application_powers", "launch_max_dbm", {"application": "25GBASE-LR"}),
    ("application_limits", "penalty_db", {"application": "1000BASE-SX", "fibre_class": "OM2"}),
    ("application_limits", "penalty_db", {"application": "1000BASE-LX10", "fibre_class": "single-mode"}),
    ("application_limits", "penalty_db", {"application": "1000BASE-BX10", "wavelength_nm": "1490"}),
    ("application_limits", "length_max_m", {"application": "10GBASE-LR"}),
    ("application_limits", "insertion_loss_max_db", {"application": "40GBASE-LR4", "fibre_class": "single-mode"}),
    ("attenuation", "attenuation_db_per_km", {"fibre_class": "OS2", "wavelength_nm": "1310"}),
    ("attenuation", "attenuation_db_per_km", {"fibre_class": "OM1", "grade": "maximum", "wavelength_nm": "850"}),
    ("group_index", "group_index", {"fibre_class": "single-mode", "wavelength_nm": "1310"}),
    ("group_index", "group_index", {"fibre_class": "single-mode", "wavelength_nm": "1550"}),
    ("modal_bandwidth", "modal_bandwidth_mhz_km", {"fibre_class": "OM2", "wavelength_nm": "850"}),
    ("modal_bandwidth", "modal_bandwidth_mhz_km", {"fibre_class": "OM4", "launch": "effective"}),
    ("component_losses", "value", {"component": "connection", "grade": "C", "quantity": "97 %"}),
    ("component_losses", "value", {"component": "splice", "quantity": "limit", "choice": "TIA-568.3-D"}),
    ("fibre_classes", "core_um", {"fibre_class": "OM3"}),
    ("fibre_classes", "numerical_aperture", {"fibre_class": "OM1"}),
    ("fibre_classes", "mode_field_um", {"fibre_class": "G.652.D"}),
    ("colour_codes", "colour", {"code": "TIA-598", "position": "3"}),
    ("colour_codes", "colour", {"code": "TIA-598", "position": "11"}),
    ("colour_codes", "colour", {"code": "IEC 60304", "position": "6"}),
]


@pytest.mark.parametrize("check", CHECKS, ids=lambda c: c.__name__)
def test_reference_values_hold_against(check):
    """Each check holds, and covers at least one row."""
    found = list(check(TABLES))
    assert found
    assert not [f for f in found if not f.holds]


def test_every_row_is_checked_or_says_why_not():
    """No reference row is without a check or a line in CHECKS.md."""
    bare = [f"{w.table}, line {w.row['line']}" for w in walk(TABLES) if not w.held_by and not w.excuse]
    assert not bare, "\n".join(bare)


def test_every_line_of_the_document_is_needed():
    """Each line of CHECKS.md excuses at least one row that no check covers."""
    covered = {key(f.row) for check in CHECKS for f in check(TABLES)}
    for excuse in excuses():
        assert [r for r in TABLES[excuse.table] if matches(r, excuse.conditions) and key(r) not in covered], excuse
        assert len(excuse.reason) > 10


def test_the_document_lists_what_would_pass_unnoticed():
    """CHECKS.md names exactly what wrong values pass (`python -m fibrebook.reference.check --renew` writes it)."""
    assert written() == unheld()


@pytest.fixture(scope="module")
def passing():
    """The cells in which some wrong value passes unnoticed."""
    return not_held(TABLES)


@pytest.mark.parametrize(("table", "column", "where"), PLANTED, ids=lambda v: str(v).replace("'", ""))
def test_a_wrong_value_is_noticed(table, column, where, passing):
    """A wrong receive power, penalty, index, bandwidth, two swapped colours... are each noticed, too high or too low."""
    rows = [row for row in TABLES[table] if matches(row, where)]
    assert rows
    for row in rows:
        assert row[column] is not None
        assert (table, row["line"], column) not in passing


def test_some_wrong_values_cannot_be_noticed(passing):
    """What one text or memory alone holds passes, and is told: an operator's colours, a maker's receiver, a reach."""
    untold = {(t, column) for t, _, column in passing}
    assert {("colour_codes", "colour"), ("application_limits", "length_max_m"), ("practice", "value")} <= untold
    single = next(r for r in TABLES["colour_codes"] if r["code"] == "Finland")
    assert ("colour_codes", single["line"], "colour") in passing


def test_a_plant_is_a_mistake():
    """Every plant differs from what stood there, and none is left in the tables."""
    assert all(plant.wrong != plant.right for plant in plants(TABLES))
    assert shipped_tables() == TABLES


def test_silica_is_that_of_another_library():
    """Malitson's group index, written out here, is `ofiber`'s; so is Marcuse's mode field."""
    for nm in (850, 1300, 1310, 1550):
        assert silica_group_index(nm / 1000) == approx(ofiber.n_group(ofiber.glass(0), nm * 1e-9), abs=2e-5)
    v = 2 * math.pi * 4.1 * 0.12 / 1.31
    assert 0.65 + 1.619 * v**-1.5 + 2.879 * v**-6 == approx(ofiber.MFR(v), rel=1e-3)


def test_second_readings_are_of_another_text():
    """A second reading names another text than its row does, or one of two that the row names."""
    for reading in readings():
        assert reading["read_in"] and reading["table"] in TABLES


def test_all_values_are_printed(capsys):
    """`python -m fibrebook.reference.check` prints every value, its source and its check, and ends well."""
    assert main([]) == 0
    text = capsys.readouterr().out
    for name, rows in TABLES.items():
        for row in rows:
            assert f"{name}, line {row['line']}: " in text
    assert text.count("    source: ") == sum(map(len, TABLES.values()))
    assert "FAILS" not in text and "NO REASON" not in text
    for basis in tables.BASES:
        assert f" {basis}" in text.splitlines()[-1]


def test_a_table_that_is_not_there_is_told(capsys):
    """A wrong name ends with 2 and names the tables."""
    assert main(["colors"]) == 2
    assert "colour_codes" in capsys.readouterr().out


def test_what_passes_is_printed(capsys):
    """`--planted` names each wrong value that passes, with what stood there."""
    assert main(["--planted", "group_index"]) == 0
    text = capsys.readouterr().out
    assert "passes for" in text and "wrong values noticed" in text
