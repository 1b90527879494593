"""Checks of applications: lengths, losses, powers and lanes against each other and against a cable."""

from __future__ import annotations

from collections.abc import Iterator

from fibrebook.reference.check.held import Finding, Row, Tables, classes, counts_as, found, mode_of

LINK_DB_PER_KM = {"multimode": {850: 3.5, 1310: 1.5, 1300: 1.5}, "single-mode": {1310: 0.4, 1490: 0.4, 1550: 0.3}}
ALLOWANCE_DB = {"multimode": 1.5, "single-mode": 2.0}  # connections and splices, IEEE 802.3 cl. 38, 52 and 87
# Power budgets that a text prints beside the powers: launch less receive.
PRINTED_BUDGET_DB = {
    ("1000BASE-SX", ""): (7.5, "a transmission-equipment maker's specification of 1000BASE-SX"),
    ("1000BASE-LX", "single-mode"): (8.0, "a transmission-equipment maker's specification of 1000BASE-LX"),
    ("1000BASE-LX", "multimode"): (7.5, "IEEE 802.3 Table 38-9, from memory"),
    ("100BASE-LX10", ""): (10.0, "a transmission-equipment maker's specification of 100BASE-LX10"),
    ("1000BASE-LX10", "single-mode"): (10.5, "IEEE 802.3 cl. 59, from memory"),
    ("1000BASE-LX10", "multimode"): (8.5, "IEEE 802.3 cl. 59, from memory"),
    ("1000BASE-BX10", ""): (10.5, "IEEE 802.3 cl. 59, from memory"),
    ("100BASE-FX", "62.5 um"): (11.0, "the channel's loss on 62.5 um, which leaves no penalty"),
    ("10GBASE-LR", ""): (6.2, "the channel's loss, which average powers leave whole"),
    ("25GBASE-LR", ""): (6.3, "the channel's loss, which average powers leave whole"),
    ("100GBASE-LR4", ""): (6.3, "the channel's loss, which average powers leave whole"),
    ("40GBASE-LR4", ""): (6.7, "the channel's loss, which average powers leave whole"),
    ("100GBASE-DR", ""): (3.0, "the channel's loss, which average powers leave whole"),
    ("25GBASE-SR", ""): (1.9, "the channel's loss on OM4, which average powers leave whole"),
    ("100GBASE-SR4", ""): (1.9, "the channel's loss on OM4, which average powers leave whole"),
    ("40GBASE-SR4", ""): (1.9, "the channel's loss on OM3, which average powers leave whole"),
}
# 100GBASE-LR4: 229.0 to 231.4 THz by 0.8 THz (c / f); 40GBASE-LR4 and -ER4: every 20 nm from 1271 (ITU-T G.694.2)
GRIDS_NM = {
    "100GBASE-LR4": tuple(299_792.458 / f for f in (231.4, 230.6, 229.8, 229.0)),
    "40GBASE-LR4": (1271.0, 1291.0, 1311.0, 1331.0),
    "40GBASE-ER4": (1271.0, 1291.0, 1311.0, 1331.0),
}


def wavelengths_nm(row: Row) -> tuple[float, ...]:
    """Return the wavelengths that an application sends [nm]."""
    return tuple(float(part) for part in row["wavelengths_nm"].split(";") if part)


def channel_loss_is_fibre_and_allowance(t: Tables) -> Iterator[Finding]:
    """Insertion loss = length x attenuation + 1.5 dB (multimode) or 2.0 dB (single-mode), to 0.35 dB."""
    apps = {row["application"]: row for row in t["applications"]}
    for row in t["application_limits"]:
        mode = mode_of(t, row["fibre_class"])
        at = row["wavelength_nm"] or min(wavelengths_nm(apps[row["application"]]))
        window = min(LINK_DB_PER_KM[mode], key=lambda nm: abs(nm - at))
        reckoned = row["length_max_m"] / 1000 * LINK_DB_PER_KM[mode][window] + ALLOWANCE_DB[mode]
        if abs(row["insertion_loss_max_db"] - reckoned) <= 0.35:
            against = f"{row['length_max_m']:g} m of cable and {ALLOWANCE_DB[mode]:g} dB of joints"
            yield found(row, row["insertion_loss_max_db"], reckoned - 0.35, reckoned + 0.35, against)


def other_cables_rebuild_other_limits(t: Tables) -> Iterator[Finding]:
    """With the cable or allowance that each names: 0.5 dB/km (cl. 38), 0.22 dB/km (engineered), 1.0 dB of joints."""
    for row in t["application_limits"]:
        name, km, most = row["application"], row["length_max_m"] / 1000, row["insertion_loss_max_db"]
        if name == "1000BASE-LX" and row["fibre_class"] == "single-mode":
            want, near = km * 0.5 + 2.0, 0.1
        elif name == "10GBASE-ER":
            per_km = 0.22 if row["choice"] == "engineered link" else 0.3
            want, near = km * per_km + 2.0, 0.2
        elif name == "40GBASE-SR4" and row["fibre_class"] in ("OM4", "OM5"):
            want, near = km * 3.5 + 1.0, 0.05
        else:
            continue
        yield found(row, most, want - near, want + near, "the cable and allowance that its clause names, dB")


def cable_figures_reach_as_far_as_told(t: Tables) -> Iterator[Finding]:
    """40GBASE-LR4: 4.0 dB of fibre at 1.0 and 0.5 dB/km; -ER4: 15 dB (TIA Fiber Optics Tech Consortium)."""
    per_km = {"OS1": 1.0, "OS1a": 1.0, "SM inside plant": 1.0, "SM outside plant": 0.5}
    fibre_db = {"40GBASE-LR4": 4.0, "40GBASE-ER4": 15.0}
    for row in t["application_limits"]:
        if row["application"] in fibre_db and row["fibre_class"] in per_km:
            want = fibre_db[row["application"]]
            reached = row["length_max_m"] / 1000 * per_km[row["fibre_class"]]
            yield found(row, reached, want, want, "dB of fibre at the attenuation named")


def one_channel_loss_whatever_the_cable(t: Tables) -> Iterator[Finding]:
    """40GBASE-LR4 and -ER4 allow one loss whatever cable spends it."""
    for row in t["application_limits"]:
        if row["application"] in ("40GBASE-LR4", "40GBASE-ER4"):
            mine = [r for r in t["application_limits"] if r["application"] == row["application"] and r is not row]
            yield Finding(
                row,
                all(r["insertion_loss_max_db"] == row["insertion_loss_max_db"] for r in mine),
                "the same loss on every cable",
            )


def powers_of(t: Tables, application: str, fibre_class: str) -> Row | None:
    """Return the row of powers that a class takes."""
    for name in counts_as(t, fibre_class):
        for row in t["application_powers"]:
            if row["application"] == application and row["fibre"] == name:
                return row
    return None


def powers_leave_the_penalties_that_are_published(t: Tables) -> Iterator[Finding]:
    """Launch less receive, less a published penalty, leaves the channel's loss and 0 to 0.9 dB unallocated."""
    for row in t["application_limits"]:
        power = powers_of(t, row["application"], row["fibre_class"])
        if row["application"] in ("1000BASE-SX", "100BASE-LX10") and row["choice"] == "IEEE 802.3" and power:
            left = power["launch_min_dbm"] - power["receive_min_dbm"] - row["penalty_db"] - row["insertion_loss_max_db"]
            yield found(row, left, 0.0, 0.9, "dB unallocated after loss and penalties")


def powers_are_spent_on_loss_and_penalties(t: Tables) -> Iterator[Finding]:
    """Launch less receive power is the channel's loss and its penalties: no margin is left unallocated in these."""
    whole = ("10BASE-FL", "100BASE-BX10", "40GBASE-ER4", "1000BASE-LX10", "1000BASE-BX10", "100BASE-FX")
    for row in t["application_limits"]:
        power = powers_of(t, row["application"], row["fibre_class"])
        if row["application"] in whole and power:
            budget_db = power["launch_min_dbm"] - power["receive_min_dbm"]
            spent_db = row["insertion_loss_max_db"] + row["penalty_db"]
            yield found(row, spent_db, budget_db, budget_db, "launch less receive, dB")
            yield found(power, budget_db, spent_db, spent_db, f"loss and penalties on {row['fibre_class']}, dB")


def loss_and_penalties_fit_in_the_budget(t: Tables) -> Iterator[Finding]:
    """What the channel loses and what is kept back are together no more than launch less receive."""
    for row in t["application_limits"]:
        power = powers_of(t, row["application"], row["fibre_class"])
        if power and power["receive_min_dbm"] is not None and row["penalty_db"] is not None:
            budget_db = power["launch_min_dbm"] - power["receive_min_dbm"]
            spent_db = row["insertion_loss_max_db"] + row["penalty_db"]
            finding = found(row, spent_db, 0.0, budget_db, "no more than launch less receive, dB")
            if row["penalty_db"] > 0 or not finding.holds:
                yield finding


def half_duplex_is_the_same_light(t: Tables) -> Iterator[Finding]:
    """The half-duplex limit is one of time, not of light: same insertion loss, shorter."""
    full = {(r["application"], r["fibre_class"]): r for r in t["application_limits"] if r["default"]}
    for row in t["application_limits"]:
        if row["choice"] == "half duplex":
            other = full[row["application"], row["fibre_class"]]
            same = row["insertion_loss_max_db"] == other["insertion_loss_max_db"]
            yield Finding(row, same and row["length_max_m"] < other["length_max_m"], "full duplex: same light, farther")


def power_budgets_exceed_the_channel_loss(t: Tables) -> Iterator[Finding]:
    """Launch and receive powers leave at least the loss that the channel may have, and stand in order."""
    for row in t["application_powers"]:
        lo, hi = row["launch_min_dbm"], row["launch_max_dbm"]
        least, most = row["receive_min_dbm"], row["receive_max_dbm"]
        ordered = lo < hi and (least is None or least < most)
        ordered &= row["damage_dbm"] is None or row["damage_dbm"] >= most
        mine = [
            r["insertion_loss_max_db"] for r in t["application_limits"]
            if r["application"] == row["application"] and r["choice"] == "IEEE 802.3"
            and (not row["fibre"] or row["fibre"] in counts_as(t, r["fibre_class"]))
        ]  # fmt: skip
        if not ordered:
            yield Finding(row, False, "the order of its powers")
        elif mine and least is not None and lo - least >= max(mine) - 1e-9:
            yield Finding(
                row, True, f"launch less receive, {lo - least:g} dB, is no less than {max(mine):g} dB of loss"
            )


def launch_less_receive_is_the_printed_budget(t: Tables) -> Iterator[Finding]:
    """Launch less receive is the power budget that a text prints, or the channel's loss where nothing is kept back."""
    for row in t["application_powers"]:
        want, text = PRINTED_BUDGET_DB.get((row["application"], row["fibre"]), (None, ""))
        if want is not None:
            # average powers may leave up to 0.1 dB over a loss that is printed to one place
            over = 0.1 if text.startswith("the channel") else 0.0
            budget_db = row["launch_min_dbm"] - row["receive_min_dbm"]
            yield found(row, budget_db, want, want + over, f"power budget by {text}, dB")


def receivers_bear_what_is_launched(t: Tables) -> Iterator[Finding]:
    """Over a short cord a receiver bears the greatest launch (all but -ER and -ZX, which ask for attenuation)."""
    for row in t["application_powers"]:
        if row["application"] not in ("10GBASE-ER", "40GBASE-ER4", "1000BASE-ZX", "10GBASE-LRM"):
            most = row["launch_max_dbm"]
            yield found(row, row["receive_max_dbm"], most, most, "as the greatest launch, dBm")


def damage_is_a_decibel_above(t: Tables) -> Iterator[Finding]:
    """IEEE 802.3 asks receivers to stand 1 dB more than they work at (cl. 52 and after); -ER 5 dB, as printed."""
    for row in t["application_powers"]:
        if row["damage_dbm"] is not None:
            above = 5.0 if row["application"] == "10GBASE-ER" else 1.0
            want = row["receive_max_dbm"] + above
            yield found(row, row["damage_dbm"], want, want, "dBm, above the greatest that it works at")


def lanes_of_one_kind_are_alike(t: Tables) -> Iterator[Finding]:
    """100GBASE-SR4 is four lanes of 25GBASE-SR: same powers, same limits."""
    pair = {"25GBASE-SR": "100GBASE-SR4", "100GBASE-SR4": "25GBASE-SR"}
    columns = {
        "application_powers": ("launch_min_dbm", "launch_max_dbm", "receive_min_dbm", "receive_max_dbm", "damage_dbm"),
        "application_limits": ("length_max_m", "insertion_loss_max_db", "penalty_db"),
    }
    for name, own in columns.items():
        place = "fibre" if name == "application_powers" else "fibre_class"
        rows = {(r["application"], r[place]): r for r in t[name]}
        for (app, fibre), row in rows.items():
            other = rows.get((pair.get(app, ""), fibre))
            if other is not None:
                yield Finding(row, all(row[c] == other[c] for c in own), f"as {other['application']}")


def fibres_of_one_core_are_alike(t: Tables) -> Iterator[Finding]:
    """Where bandwidth is not what binds (diodes, or a cord that conditions modes) one core has one limit."""
    core = {name: row["core_um"] for name, row in classes(t).items()}
    for row in t["application_limits"]:
        if row["application"] in ("10BASE-FL", "100BASE-FX", "1000BASE-LX10") and core.get(row["fibre_class"]):
            for other in t["application_limits"]:
                same = (other["application"], other["choice"]) == (row["application"], row["choice"])
                if same and other is not row and core.get(other["fibre_class"]) == core[row["fibre_class"]]:
                    alike = all(row[c] == other[c] for c in ("length_max_m", "insertion_loss_max_db", "penalty_db"))
                    yield Finding(row, alike, f"as on {other['fibre_class']}, of the same core")


def multiplexed_lanes_lie_on_their_grids(t: Tables) -> Iterator[Finding]:
    """100GBASE-LR4: 229.0 to 231.4 THz by 0.8 THz (c / f); 40GBASE-LR4: every 20 nm from 1271 (ITU-T G.694.2)."""
    for row in t["applications"]:
        if row["application"] in GRIDS_NM:
            grid = GRIDS_NM[row["application"]]
            told = wavelengths_nm(row)
            near = len(told) == len(grid) and all(abs(a - b) <= 0.01 for a, b in zip(told, grid, strict=True))
            yield Finding(row, near, f"the grid {', '.join(f'{nm:.2f}' for nm in grid)} nm")


def lanes_and_fibres_agree(t: Tables) -> Iterator[Finding]:
    """Two fibres, or one, or one each way for each parallel lane; every application has limits on its mode."""
    for row in t["applications"]:
        parallel = row["lanes"] > 1 and row["wavelengths_are"] != "lanes"
        want = 2 * row["lanes"] if parallel else 1 if "-B" in row["application"] else 2
        family = row["family"] or row["application"]
        modes = {mode_of(t, r["fibre_class"]) for r in t["application_limits"] if r["application"] == family}
        holds = row["fibres"] == want and modes == set(row["mode"].split(";"))
        yield Finding(row, holds, f"{want} fibres by its lanes; limits on {' and '.join(sorted(modes))}")


def channel_classes_are_cable_and_two_connections(t: Tables) -> Iterator[Finding]:
    """Class OF-300, -500, -2000: two connections of 0.75 dB and its metres at 3.5, 1.5 (multimode), 1.0 dB/km."""
    per_km = {"multimode": {850: 3.5, 1300: 1.5}, "single-mode": {1310: 1.0, 1550: 1.0}}
    for row in t["channel_classes"]:
        metres = float(row["channel_class"].removeprefix("OF-"))
        want = 2 * 0.75 + metres / 1000 * per_km[row["mode"]][row["wavelength_nm"]]
        finding = found(row, row["insertion_loss_max_db"], want, want, "1.5 dB and its length of cable, dB")
        yield finding._replace(holds=finding.holds and row["length_max_m"] == metres)


APPLICATION_CHECKS = (
    channel_loss_is_fibre_and_allowance, other_cables_rebuild_other_limits, cable_figures_reach_as_far_as_told,
    one_channel_loss_whatever_the_cable, powers_leave_the_penalties_that_are_published,
    powers_are_spent_on_loss_and_penalties, loss_and_penalties_fit_in_the_budget,
    half_duplex_is_the_same_light, power_budgets_exceed_the_channel_loss,
    launch_less_receive_is_the_printed_budget, receivers_bear_what_is_launched, damage_is_a_decibel_above,
    lanes_of_one_kind_are_alike, fibres_of_one_core_are_alike, multiplexed_lanes_lie_on_their_grids,
    lanes_and_fibres_agree, channel_classes_are_cable_and_two_connections,
)  # fmt: skip
