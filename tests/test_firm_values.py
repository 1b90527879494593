"""A firm's own reference rows and its choice between sources are honoured, and only for that firm."""

from __future__ import annotations

import pytest
from light_plant import duplex, register
from pytest import approx

import fibrebook
from fibrebook.errors import ValueSourceError
from fibrebook.light import catalogue

SHEET = [
    {"row": "1", "reference_table": "applications", "application": "shop optic 20 km", "standard": "none", "fibres": 2,
     "lanes": 1, "mode": "single-mode", "wavelengths_nm": "1310", "receive_wavelengths_nm": "1310",
     "source": "the optic's data sheet", "basis": "seen"},
    {"row": "2", "reference_table": "application_limits", "application": "shop optic 20 km",
     "fibre_class": "single-mode", "length_max_m": 20000, "insertion_loss_max_db": 12,
     "source": "the optic's data sheet", "basis": "seen"},
    {"row": "3", "reference_table": "application_powers", "application": "shop optic 20 km", "launch_min_dbm": -5,
     "launch_max_dbm": 0, "receive_min_dbm": -20, "receive_max_dbm": -3, "source": "the optic's data sheet",
     "basis": "seen"},
]  # fmt: skip


def test_a_data_sheet_of_the_firm_s_own(tmp_path):
    """A transceiver in the register's reference values is weighed, would run, and is unknown to another firm."""
    reg = register(duplex("shop optic 20 km"), tmp_path / "r", reference_values=SHEET)
    row = fibrebook.headroom(reg).iloc[0]
    assert (row["limit_db"], row["length_max_m"], row["source"]) == (12.0, 20000.0, "the optic's data sheet")
    assert row["too_strong_db"] == approx(0 - 0.5 * 0.4 + 3)
    told = fibrebook.would_run(reg, "S1", ("channel", "CH1")).set_index("application")
    assert told.loc["shop optic 20 km", "runs"] == "with an attenuator"
    assert catalogue.application_name("shop optic 20 km") is None
    other = register(duplex("shop optic 20 km"), tmp_path / "other")
    assert fibrebook.headroom(other).iloc[0]["binding"] == "no limit known"


def test_the_firm_chooses_between_sources(tmp_path):
    """OM4 at 850 nm is 3.5 dB/km by ISO/IEC 11801-1 (the stricter, default) and 3.0 by TIA-568.3-D."""
    plant = duplex("10GBASE-SR", "OM4", 200.0)
    strict = fibrebook.headroom(register(plant, tmp_path / "a"))["loss_db"].iloc[0]
    chosen = register(plant, tmp_path / "b", choices=[{"choice": "sources", "value": "TIA-568.3-D"}])
    assert strict - fibrebook.headroom(chosen)["loss_db"].iloc[0] == approx(0.2 * 0.5)
    parts = fibrebook.contributions(chosen, "S1", ("channel", "CH1")).set_index("kind")
    assert "TIA-568.3-D" in parts.loc["core", "source"]


def test_an_unknown_source_is_named(tmp_path):
    """A choice of a source that no value has is an error that lists the known ones."""
    reg = register(duplex(), tmp_path / "r", choices=[{"choice": "sources", "value": "hearsay"}])
    with pytest.raises(ValueSourceError, match=r"'hearsay'.*TIA-568\.3-D"):
        fibrebook.headroom(reg)


def test_a_column_that_the_table_has_not_is_named(tmp_path):
    """An own row that fills a column its table lacks is named by its row."""
    wrong = [{"row": "9", "reference_table": "attenuation", "fibre_class": "OS2", "wavelength_nm": 1310, "value": 0.3,
              "grade": "maximum", "source": "a sheet", "basis": "seen"}]  # fmt: skip
    reg = register(duplex(), tmp_path / "r", reference_values=wrong)
    with pytest.raises(ValueSourceError, match="row 9: attenuation has no column 'value'"):
        fibrebook.headroom(reg)


def test_an_own_value_goes_before_the_published_one(tmp_path):
    """A cable maker's 0.36 dB/km for OS2 at 1310 nm replaces 0.4 and is named as the source."""
    own = [{"row": "1", "reference_table": "attenuation", "fibre_class": "OS2", "wavelength_nm": 1310,
            "attenuation_db_per_km": 0.36, "grade": "maximum", "source": "our cable's sheet",
            "basis": "seen"}]  # fmt: skip
    reg = register(duplex(length_m=1000.0), tmp_path / "r", reference_values=own)
    part = fibrebook.contributions(reg, "S1", ("channel", "CH1")).set_index("kind").loc["core"]
    assert (part["loss_db"], part["source"]) == (approx(0.36), "our cable's sheet (seen)")


def test_practice_is_the_firm_s_to_set(tmp_path):
    """The usual uncertainty of a test can be the firm's own value of practice."""
    own = [{"row": "1", "reference_table": "practice", "name": "splice usual limit", "value": 0.05, "unit": "dB",
            "source": "our quality plan", "basis": "common practice"}]  # fmt: skip
    plant = duplex(splices=1)
    plant.rows["splices"][0] |= {"loss_db": 0.07, "loss_basis": "estimated"}
    reg = register(plant, tmp_path / "r", reference_values=own)
    row = fibrebook.splice_quality(reg).iloc[0]
    assert (row["limit_db"], row["over"]) == (0.05, 1)
