"""Every reference value is checked against something independent of it, or CHECKS.md says why it is not.

Each check below asserts a relation to physics, to another publisher's figure or to arithmetic that the standard's
authors used, and returns the rows that it covers. The last test walks all rows of all tables.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import ofiber
import pytest
from pytest import approx

import fibrebook.reference
from fibrebook.light.catalogue import application, attenuation_db_per_km
from fibrebook.light.multimode import multimode_aperture_mismatch_db, multimode_core_mismatch_db
from fibrebook.reference import tables
from fibrebook.reference.fibres import aperture_of, core_um_of, mode_of
from fibrebook.reference.tables import names

Row = dict[str, Any]
Rows = Iterable[Row]
FOLDER = Path(fibrebook.reference.__file__).parent
DOCS = Path(fibrebook.reference.__file__).with_name("CHECKS.md")
LINK_DB_PER_KM = {"multimode": {850: 3.5, 1310: 1.5, 1300: 1.5}, "single-mode": {1310: 0.4, 1490: 0.4, 1550: 0.3}}
ALLOWANCE_DB = {"multimode": 1.5, "single-mode": 2.0}  # connections and splices, IEEE 802.3 cl. 38, 52 and 87


def rows(name: str) -> list[Row]:
    """The built-in rows of a table: they come before a plugin's."""
    lines = (FOLDER / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    return tables.rows(name)[: len(lines) - 1]


def attenuation_is_above_scattering() -> Rows:
    """No silica fibre is better than Rayleigh scattering, 0.7 dB/km um^4 at least (Senior, ch. 3), nor 10 x worse."""
    for row in rows("attenuation"):
        wavelength_um = row["wavelength_nm"] / 1000.0
        floor = 0.7 / wavelength_um**4
        longest = 0.7 / ((row["wavelength_to_nm"] or row["wavelength_nm"]) / 1000.0) ** 4
        assert longest <= row["attenuation_db_per_km"] < 10 * floor, row
        if row["grade"] == "typical":
            yield row


def a_typical_cable_keeps_the_maximum() -> Rows:
    """The usual loss of one publisher is within the greatest loss of another."""
    for row in rows("attenuation"):
        if row["grade"] != "maximum":
            continue
        usual = attenuation_db_per_km(row["fibre_class"], row["wavelength_nm"], "typical")
        if not math.isnan(usual):
            assert usual <= row["attenuation_db_per_km"] + 1e-9, row
            yield row


def maxima_at_1260_nm_follow_scattering() -> Rows:
    """From 1310 to 1260 nm a fibre of 0.4 dB/km loses 0.4 (1310/1260)^4 = 0.467 dB/km; others 0.067 more."""
    more = 0.4 * (1310 / 1260) ** 4 - 0.4
    for row in rows("attenuation"):
        if row["wavelength_nm"] == 1260:
            there = attenuation_db_per_km(row["fibre_class"], 1310)
            assert row["attenuation_db_per_km"] == approx(there + more, abs=0.01), row
            yield row


def link_models_are_near_the_cabling_maxima() -> Rows:
    """IEEE's link models use attenuations within 8 % of ISO's, or TIA's outside plant figure."""
    for row in rows("attenuation"):
        if row["grade"] == "link model":
            fibre = {"62.5 um": "OM1", "50 um": "OM2", "multimode": "OM2", "single-mode": "SM outside plant"}
            known = fibre.get(row["fibre_class"], row["fibre_class"])
            assert row["attenuation_db_per_km"] == approx(attenuation_db_per_km(known, row["wavelength_nm"]), rel=0.08)
            yield row


def channel_loss_is_fibre_and_allowance() -> Rows:
    """Insertion loss = length x attenuation + 1.5 dB (multimode) or 2.0 dB (single-mode), to 0.35 dB."""
    for row in rows("application_limits"):
        app = application(row["application"])
        mode = row["fibre_class"] if row["fibre_class"] in ALLOWANCE_DB else mode_of(row["fibre_class"])
        at = row["wavelength_nm"] or min(app.wavelengths_nm)
        window = min(LINK_DB_PER_KM[mode], key=lambda nm: abs(nm - at))
        reckoned = row["length_max_m"] / 1000 * LINK_DB_PER_KM[mode][window] + ALLOWANCE_DB[mode]
        if abs(row["insertion_loss_max_db"] - reckoned) <= 0.35:
            yield row


def other_cables_rebuild_other_limits() -> Rows:
    """With the cable or allowance that each names: 0.5 dB/km (cl. 38), 0.22 dB/km (engineered), 1.0 dB of joints."""
    for row in rows("application_limits"):
        name, km, most = row["application"], row["length_max_m"] / 1000, row["insertion_loss_max_db"]
        if name == "1000BASE-LX" and row["fibre_class"] == "single-mode":
            assert most == approx(km * 0.5 + 2.0, abs=0.1)
        elif name == "10GBASE-ER" and row["choice"] == "engineered link":
            assert most == approx(km * 0.22 + 2.0, abs=0.2)
        elif name == "40GBASE-SR4" and row["fibre_class"] in ("OM4", "OM5"):
            assert most == approx(km * 3.5 + 1.0, abs=0.05)
        else:
            continue
        yield row


def cable_figures_reach_as_far_as_told() -> Rows:
    """40GBASE-LR4 on 1.0 and 0.5 dB/km: 4 and 8 km at 4.0 dB of fibre each (TIA Fiber Optics Tech Consortium)."""
    per_km = {"OS1": 1.0, "OS1a": 1.0, "SM inside plant": 1.0, "SM outside plant": 0.5}
    for row in rows("application_limits"):
        if row["application"] == "40GBASE-LR4" and row["fibre_class"] in per_km:
            assert row["length_max_m"] / 1000 * per_km[row["fibre_class"]] == approx(4.0)
            yield row


def powers_leave_the_penalties_that_are_published() -> Rows:
    """Launch less receive, less a published penalty, leaves the channel's loss and 0 to 0.9 dB unallocated."""
    for row in rows("application_limits"):
        power = next((p for p in rows("application_powers") if p["application"] == row["application"]), None)
        if row["application"] in ("1000BASE-SX", "100BASE-LX10") and row["choice"] == "IEEE 802.3" and power:
            left = power["launch_min_dbm"] - power["receive_min_dbm"] - row["penalty_db"] - row["insertion_loss_max_db"]
            assert -1e-9 <= left <= 0.9, row
            yield row


def half_duplex_is_the_same_light() -> Rows:
    """The half-duplex limit is one of time, not of light: same insertion loss, shorter."""
    for row in rows("application_limits"):
        if row["choice"] == "half duplex":
            full = next(
                r for r in rows("application_limits")
                if r["application"] == row["application"] and r["fibre_class"] == row["fibre_class"] and r["default"]
            )  # fmt: skip
            assert row["insertion_loss_max_db"] == full["insertion_loss_max_db"]
            assert row["length_max_m"] < full["length_max_m"]
            yield row


def power_budgets_exceed_the_channel_loss() -> Rows:
    """Launch and receive powers leave at least the loss that the channel may have, and stand in order."""
    for row in rows("application_powers"):
        lo, hi = row["launch_min_dbm"], row["launch_max_dbm"]
        least, most = row["receive_min_dbm"], row["receive_max_dbm"]
        assert lo < hi and (least is None or least < most), row
        assert row["damage_dbm"] is None or row["damage_dbm"] >= most, row
        mine = [
            r for r in rows("application_limits")
            if r["application"] == row["application"] and r["choice"] == "IEEE 802.3"
            and (not row["fibre"] or row["fibre"] in (r["fibre_class"], mode_of(r["fibre_class"]) or r["fibre_class"],
                                                       f"{core_um_of(r['fibre_class']) or 0:g} um"))
        ]  # fmt: skip
        if mine and least is not None and lo - least >= max(r["insertion_loss_max_db"] for r in mine) - 1e-9:
            yield row


def multiplexed_lanes_lie_on_their_grids() -> Rows:
    """100GBASE-LR4: 229.0 to 231.4 THz by 0.8 THz (c / f); 40GBASE-LR4: every 20 nm from 1271 (ITU-T G.694.2)."""
    c = 299_792.458  # nm THz
    grids = {
        "100GBASE-LR4": [c / f for f in (231.4, 230.6, 229.8, 229.0)],
        "40GBASE-LR4": [1271, 1291, 1311, 1331],
    }
    for row in rows("applications"):
        if row["application"] in grids:
            told = application(row["application"]).wavelengths_nm
            assert told == approx(grids[row["application"]], abs=0.01)
            yield row


def lanes_and_fibres_agree() -> Rows:
    """Two fibres, or one, or one each way for each parallel lane; every application has limits on its mode."""
    for row in rows("applications"):
        parallel = row["lanes"] > 1 and row["wavelengths_are"] != "lanes"
        assert row["fibres"] == (2 * row["lanes"] if parallel else 1 if "BX10" in row["application"] else 2), row
        family = row["family"] or row["application"]
        mine = [r["fibre_class"] for r in rows("application_limits") if r["application"] == family]
        modes = {mode_of(name) or name for name in mine}
        assert modes == set(row["mode"].split(";")), row
        yield row


def grades_stand_in_order() -> Rows:
    """Within a grade the mean is below the 97 % figure, and grades B, C, D go from better to worse."""
    table = [r for r in rows("component_losses") if r["component"] == "connection"]
    for family in (("B", "C", "D"), ("Bm", "Cm")):
        for quantity in ("mean", "97 %"):
            found = [r for g in family for r in table if r["grade"] == g and r["quantity"] == quantity]
            assert [r["value"] for r in found] == sorted({r["value"] for r in found})
            yield from found
        for grade in family:
            mean, most = (
                next(r["value"] for r in table if r["grade"] == grade and r["quantity"] == q) for q in ("mean", "97 %")
            )
            assert 0 < mean < most


def shares_of_random_mating_stand_in_order() -> Rows:
    """Half of all pairs lose less than 95 % of them do, those less than the limit; the mean is the median."""
    table = [r for r in rows("component_losses") if r["component"] == "connection" and not r["grade"] and not r["mode"]]
    by = {r["quantity"]: r["value"] for r in table if r["default"]}
    assert by["50 %"] == by["mean"] < by["95 %"] < by["limit"]
    yield from (r for r in table if r["quantity"] in ("50 %", "95 %", "mean") or r["quantity"] == "limit")


def usual_joints_keep_their_limits() -> Rows:
    """A usual connection or fusion splice loses no more than the standard's limit of it, by another publisher."""
    limit = {"connection": 0.75, "array connection": 0.75, "splice": 0.3, "fusion splice": 0.3}  # TIA-568.3-D
    for row in rows("component_losses"):
        if row["component"] in limit and row["quantity"] == "typical":
            assert row["value"] <= limit[row["component"]], row
            yield row


def two_standards_agree() -> Rows:
    """ISO/IEC 11801-1 and TIA-568.3 print the same limit for splices and for connections."""
    table = [r for r in rows("component_losses") if r["quantity"] == "limit" and not r["grade"] and not r["mode"]]
    for component in ("connection", "splice", "fusion splice", "mechanical splice"):
        mine = [r for r in table if r["component"] == component and r["choice"] in ("ISO/IEC 11801-1", "TIA-568.3-D")]
        assert len({r["value"] for r in mine}) == 1 and len(mine) == 2
        yield from mine


def reference_plugs_are_better() -> Rows:
    """Reference to reference loses less than reference to standard, and that no more than standard to standard."""
    table = [r for r in rows("component_losses") if r["component"] == "connection"]
    for mode in ("multimode", "single-mode"):
        best = [r for r in table if r["mode"] == mode and r["grade"] == "reference to reference"]
        good = [r for r in table if r["mode"] == mode and r["grade"] == "reference to standard"]
        assert max(r["value"] for r in best) < min(r["value"] for r in good) <= max(r["value"] for r in good) < 0.75
        yield from best + good


def return_loss_grades_stand_in_order() -> Rows:
    """Grades 1 to 4 of return loss fall, and the last is above the 14 dB of an open glass end."""
    found = [r for r in rows("component_losses") if r["grade"].startswith("return loss")]
    values = [r["value"] for r in sorted(found, key=lambda r: r["grade"])]
    assert values == sorted(values, reverse=True) and values[-1] > 14.0
    yield from found


def allowance_rebuilds_channel_losses() -> Rows:
    """The allowance of 1.5 and 2.0 dB rebuilds the losses of 10GBASE-SR on OM3 and 10GBASE-LR to 0.25 dB."""
    by = {r["mode"]: r for r in rows("component_losses") if r["quantity"] == "allowance"}
    assert 0.3 * 3.5 + by["multimode"]["value"] == approx(2.6, abs=0.2)
    assert 10 * 0.4 + by["single-mode"]["value"] == approx(6.2, abs=0.25)
    yield from by.values()


def splice_chances_lie_in_the_trade_s_range() -> Rows:
    """Mean and 97 % figure of a splice lie in the trade's ranges: fusion 0.02 to 0.1, mechanical 0.1 to 0.5 dB."""
    ranges = {"fusion splice": (0.02, 0.1), "mechanical splice": (0.1, 0.5), "splice": (0.1, 0.5)}
    for row in rows("component_losses"):
        if row["component"] in ranges and row["quantity"] in ("mean", "97 %"):
            low, high = ranges[row["component"]]
            assert low <= row["value"] <= high
            yield row


def cores_give_the_printed_mismatch() -> Rows:
    """62.5 into 50 um: 1.9 dB of core (usual print) and 4.7 dB with the aperture; alike cores lose nothing."""
    for row in rows("fibre_classes"):
        if row["mode"] == "multimode":
            core = multimode_core_mismatch_db(row["core_um"], 50.0)
            both = core + multimode_aperture_mismatch_db(row["numerical_aperture"], 0.2)
            assert (core, both) == ((approx(1.94, abs=0.01), approx(4.70, abs=0.01)) if row["core_um"] > 50 else (0, 0))
            assert core_um_of(row["fibre_class"]) == row["core_um"] and aperture_of(row["fibre_class"])
            yield row


def mode_fields_follow_from_the_core() -> Rows:
    """A matched-cladding core of 8.2 um and aperture 0.12 has 9.2 +- 0.4 um at 1310 nm (Marcuse, by `ofiber`)."""
    v = 2 * math.pi * 4.1 * 0.12 / 1.31
    field = 2 * ofiber.MFR(v) * 4.1
    for row in rows("fibre_classes"):
        if row["mode_field_um"] is not None:
            assert row["mode_field_um"] == approx(field, abs=0.4)
            yield row


def group_indices_are_those_of_doped_silica() -> Rows:
    """Between the group index of pure silica (Sellmeier, by `ofiber`) and 2.5 % more."""
    for row in rows("group_index"):
        silica = ofiber.n_group(ofiber.glass(0), row["wavelength_nm"] * 1e-9)
        assert silica < row["group_index"] < 1.025 * silica, row
        yield row


def bandwidths_stand_in_order() -> Rows:
    """Better classes have no less bandwidth; laser launch has more than overfilled; 953 nm has less than 850 nm."""
    order = ("62.5/160", "OM1", "50/400", "OM2", "OM3", "OM4", "OM5")
    table = {(r["fibre_class"], r["wavelength_nm"], r["launch"]): r for r in rows("modal_bandwidth")}
    for launch in ("overfilled", "effective"):
        found = [table[c, 850.0, launch]["modal_bandwidth_mhz_km"] for c in order if (c, 850.0, launch) in table]
        assert found == sorted(found)
    for (name, nm, launch), row in table.items():
        if launch == "effective":
            assert row["modal_bandwidth_mhz_km"] > table[name, nm, "overfilled"]["modal_bandwidth_mhz_km"]
        if nm == 953.0:
            assert row["modal_bandwidth_mhz_km"] < table[name, 850.0, launch]["modal_bandwidth_mhz_km"]
        yield row


def chart_factors_are_those_of_pairs() -> Rows:
    """d2 of a pair is 2 / sqrt(pi) = 1.128: 3 / d2 = 2.66; D4 = 1 + 3 d3 / d2 with d3 = sqrt(2 - 4 / pi)."""
    d2, d3 = 2 / math.sqrt(math.pi), math.sqrt(2 - 4 / math.pi)
    for row in rows("practice"):
        want = {"individuals chart factor": 3 / d2, "moving range chart factor": 1 + 3 * d3 / d2}.get(row["name"])
        if want is not None:
            assert row["value"] == approx(want, rel=1e-3)
            yield row
        if row["name"] == "index uncertainty":  # 1.483 and 1.481 for one fibre
            assert row["value"] == approx(100 * 0.002 / 1.48, abs=0.1)
            yield row
        if row["name"] == "maximum as share of loss":
            assert row["value"] == approx(100 * 0.5 * (1 + math.erf(2 / math.sqrt(2))), abs=0.05)
            yield row


def colours_of_a_code_are_twelve_different_ones() -> Rows:
    """A code that could not tell two cores apart would be wrong: its colours differ, and each is a known word."""
    known = {r[c] for r in rows("colour_words") for c in ("colour", "spelling")}
    by: dict[str, list[Row]] = {}
    for row in rows("colour_codes"):
        assert row["colour"] in known
        by.setdefault(row["code"], []).append(row)
    for found in by.values():
        assert [r["position"] for r in found] == list(range(1, len(found) + 1))
        assert len({r["colour"] for r in found}) == len(found)
        yield from found


def drawing_colours_can_be_read() -> Rows:
    """Text on each drawing colour has a contrast of at least 3 to 1 (W3C WCAG 2)."""

    def luminance(text: str) -> float:
        parts = [int(text[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    for row in rows("colour_words"):
        if row["hex"]:
            light, dark = sorted((luminance(row["hex"]), luminance(row["text_hex"])), reverse=True)
            assert (light + 0.05) / (dark + 0.05) >= 3.0, row
            yield row


CHECKS: list[Callable[[], Rows]] = [
    attenuation_is_above_scattering, a_typical_cable_keeps_the_maximum, maxima_at_1260_nm_follow_scattering,
    link_models_are_near_the_cabling_maxima, channel_loss_is_fibre_and_allowance,
    other_cables_rebuild_other_limits, cable_figures_reach_as_far_as_told,
    powers_leave_the_penalties_that_are_published, half_duplex_is_the_same_light, power_budgets_exceed_the_channel_loss,
    multiplexed_lanes_lie_on_their_grids, lanes_and_fibres_agree, grades_stand_in_order,
    shares_of_random_mating_stand_in_order, usual_joints_keep_their_limits, two_standards_agree,
    reference_plugs_are_better, return_loss_grades_stand_in_order, allowance_rebuilds_channel_losses,
    splice_chances_lie_in_the_trade_s_range, cores_give_the_printed_mismatch, mode_fields_follow_from_the_core,
    group_indices_are_those_of_doped_silica, bandwidths_stand_in_order, chart_factors_are_those_of_pairs,
    colours_of_a_code_are_twelve_different_ones, drawing_colours_can_be_read,
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=lambda c: c.__name__)
def test_reference_values_hold_against(check):
    """Each independent check holds, and covers at least one row."""
    assert list(check())


def documented() -> list[tuple[str, dict[str, str], str]]:
    """(table, conditions, reason) of every line of CHECKS.md's table."""
    lines = re.findall(r"^\| `(\w+)` \| (.+?) \| (.+?) \|$", DOCS.read_text(encoding="utf-8"), re.M)
    out = []
    for table, where, reason in lines:
        pairs = [p.split(" = ") for p in re.findall(r"`([^`]+)`", where)]
        out.append((table, {p[0]: p[1] for p in pairs}, reason))
    return out


def matches(row: Row, conditions: dict[str, str]) -> bool:
    """Whether a row has all the values of a line of CHECKS.md."""
    told = {c: f"{row[c]:g}" if isinstance(row[c], float) else str(row[c] or "") for c in conditions}
    return told == conditions


def test_every_row_is_checked_or_says_why_not():
    """No reference row is without an independent check or a line in CHECKS.md."""
    covered = {(row["file"], row["line"]) for check in CHECKS for row in check()}
    lines = documented()
    bare = [
        f"{row['file']}, line {row['line']}: {row}"
        for name in names()
        for row in rows(name)
        if (row["file"], row["line"]) not in covered
        and not any(table == name and matches(row, where) for table, where, _ in lines)
    ]
    assert not bare, "\n".join(bare)


def test_every_line_of_the_document_is_needed():
    """Each line of CHECKS.md excuses at least one row that no check covers."""
    covered = {(row["file"], row["line"]) for check in CHECKS for row in check()}
    for table, where, reason in documented():
        found = [r for r in rows(table) if matches(r, where) and (r["file"], r["line"]) not in covered]
        assert found, (table, where)
        assert len(reason) > 10
