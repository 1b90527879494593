"""A firm's own reference rows and its choice between sources are honoured, and only for that firm."""

from __future__ import annotations

import pytest
from light_plant import duplex, register
from pytest import approx

import fibrebook
from fibrebook.errors import RuleError
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
    assert (row["limit_db"], row["length_max_m"], row["source"]) == (12.0, 20000.0, "the optic's data sheet (seen)")
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


WRONG_VALUES = {
    "a column it lacks": ({"reference_table": "attenuation", "fibre_class": "OS2", "wavelength_nm": 1310, "value": 0.3,
                           "grade": "maximum"}, "has no column 'value'"),
    "a needed column blank": ({"reference_table": "practice", "name": "splice usual limit"}, "needs 'value'"),
    "wavelengths in words": ({"reference_table": "applications", "application": "ours", "mode": "multimode", "fibres": 2,
                              "lanes": 1, "wavelengths_nm": "red"}, "'red' are not numbers"),
    "a mode that is none": ({"reference_table": "fibre_classes", "fibre_class": "OURS", "mode": "thick"}, "'thick'"),
    "an application twice": ({"reference_table": "applications", "application": "10GBASE-SR", "mode": "multimode",
                              "fibres": 2, "lanes": 1, "wavelengths_nm": "850"}, "already"),
    "limits of nothing": ({"reference_table": "application_limits", "application": "10GBASE-XX", "length_max_m": 1},
                          "no application '10GBASE-XX'"),
    "an unknown grade": ({"reference_table": "attenuation", "fibre_class": "OS2", "wavelength_nm": 1310,
                          "attenuation_db_per_km": 0.3, "grade": "hoped for"}, "'hoped for' is not known"),
}  # fmt: skip
WRONG_CHOICES = {
    "a source of nothing": ("sources", "hearsay", "'hearsay'.*"),
    "an unknown edition": ("acceptance", "mine", "'mine' is none"),
    "a margin in words": ("margin_db", "some", "'some' is not a number"),
    "an impossible margin": ("margin_db", "90", "impossible"),
    "an unknown choice": ("colour", "red", "there is no choice 'colour'"),
}
WRONG = {
    **{k: ("reference_values", {"row": "9", "source": "a sheet", "basis": "seen", **v}, w) for k, (v, w) in WRONG_VALUES.items()},
    **{k: ("choices", {"choice": c, "value": v}, w) for k, (c, v, w) in WRONG_CHOICES.items()},
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG)
def test_what_its_table_cannot_take_is_refused_at_the_edit(tmp_path, name):
    """A firm's row or choice that no answer could honour is refused before it is committed, named by its row."""
    table, row, words = WRONG[name]
    reg = register(duplex(), tmp_path / "r")
    with pytest.raises(RuleError, match=words) as caught, reg.edit(by="ab", why="x") as edit:
        edit.put(table, [row])
    assert [(p.table, p.key) for p in caught.value.problems] == [(table, (row.get("row") or row["choice"],))]
    assert reg.table(table).empty


@pytest.mark.parametrize("name", WRONG)
def test_what_stands_already_is_left_out_and_told(tmp_path, monkeypatch, name):
    """Where such a row stands from former times, every answer is given without it, advice names it, and other rows
    may still be put beside it."""
    table, row, words = WRONG[name]
    monkeypatch.setattr("fibrebook.register.commits.commit.new_breaches", lambda *given: [])
    reg = register(duplex(), tmp_path / "r", **{table: [row]})
    monkeypatch.undo()
    without = register(duplex(), tmp_path / "without")
    assert fibrebook.headroom(reg).equals(fibrebook.headroom(without))
    fibrebook.contributions(reg, "S1", ("channel", "CH1"))
    fibrebook.would_run(reg, "S1", ("channel", "CH1"))
    fibrebook.acceptance(reg)
    fibrebook.room_for(reg)
    told = fibrebook.advice(reg).query("check == 'value left out'")
    assert told["table"].tolist() == [table]
    assert told["what"].str.contains(words).all()
    assert told["record"].tolist() == [row.get("row") or row["choice"]]
    sound = {"row": "1", "reference_table": "practice", "name": "splice usual limit", "value": 0.05, "unit": "dB",
             "source": "our plan", "basis": "common practice"}  # fmt: skip
    with reg.edit(by="ab", why="x") as edit:
        edit.put("reference_values", [sound])
    with reg.edit(by="ab", why="mended") as edit:
        edit.remove(table, [row.get("row") or row["choice"]])
    assert fibrebook.advice(reg).query("check == 'value left out'").empty


def test_rows_may_stand_before_what_they_name(tmp_path):
    """Limits of an application of the firm's own may be put before and with it, in any order."""
    reg = register(duplex("shop optic 20 km"), tmp_path / "r", reference_values=SHEET[::-1])
    assert fibrebook.headroom(reg).iloc[0]["limit_db"] == 12.0


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
