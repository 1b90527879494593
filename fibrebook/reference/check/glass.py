"""Checks of fibre itself: scattering, the index of silica, the core, modal bandwidth."""

from __future__ import annotations

import math
from collections.abc import Iterator

from fibrebook.reference.check.held import Finding, Tables, classes, default_db_per_km, found

LINK_MODEL_OF = {"62.5 um": "OM1", "50 um": "OM2", "multimode": "OM2", "single-mode": "SM outside plant"}


def silica_group_index(wavelength_um: float) -> float:
    """Return the group index n - wavelength dn/dwavelength of pure fused silica.

    n^2 - 1 = sum of B w^2 / (w^2 - C^2)   (Malitson, J. Opt. Soc. Am. 55, 1205 (1965))
    """
    terms = ((0.6961663, 0.0684043), (0.4079426, 0.1162414), (0.8974794, 9.896161))
    w2 = wavelength_um**2
    n = math.sqrt(1.0 + sum(b * w2 / (w2 - c * c) for b, c in terms))
    slope = sum(-b * wavelength_um * c * c / (w2 - c * c) ** 2 for b, c in terms) / n
    return n - wavelength_um * slope


def attenuation_is_above_scattering(t: Tables) -> Iterator[Finding]:
    """No silica fibre is better than Rayleigh scattering, 0.7 dB/km um^4 at least (Senior, ch. 3), nor 10 x worse."""
    for row in t["attenuation"]:
        most = 10 * 0.7 / (row["wavelength_nm"] / 1000.0) ** 4
        least = 0.7 / ((row["wavelength_to_nm"] or row["wavelength_nm"]) / 1000.0) ** 4
        finding = found(row, row["attenuation_db_per_km"], least, most, "Rayleigh scattering to 10 x it, dB/km")
        if row["grade"] == "typical" or not finding.holds:
            yield finding


def a_typical_cable_keeps_the_maximum(t: Tables) -> Iterator[Finding]:
    """The usual loss of one publisher is within the greatest loss of another."""
    for row in t["attenuation"]:
        usual = default_db_per_km(t, row["fibre_class"], row["wavelength_nm"], "typical")
        if row["grade"] == "maximum" and usual is not None:
            yield found(row, row["attenuation_db_per_km"], usual, 10.0, "not less than the usual loss, dB/km")


def maxima_at_1260_nm_follow_scattering(t: Tables) -> Iterator[Finding]:
    """From 1310 to 1260 nm a fibre of 0.4 dB/km loses 0.4 (1310/1260)^4 = 0.467 dB/km; others 0.067 more."""
    more = 0.4 * (1310 / 1260) ** 4 - 0.4
    for row in t["attenuation"]:
        there = default_db_per_km(t, row["fibre_class"], 1310.0, "maximum")
        if row["wavelength_nm"] == 1260 and there is not None:
            want = there + more
            yield found(row, row["attenuation_db_per_km"], want - 0.01, want + 0.01, "scattering from 1310 nm, dB/km")


def attenuation_at_953_nm_follows_scattering(t: Tables) -> Iterator[Finding]:
    """OM5 at 953 nm: from 3.0 dB/km at 850 nm by the wavelength^-4 law is 1.9; absorption adds up to a quarter."""
    for row in t["attenuation"]:
        if row["wavelength_nm"] == 953:
            low = (default_db_per_km(t, row["fibre_class"], 850.0, "maximum") or 0.0) * (850 / 953) ** 4
            yield found(row, row["attenuation_db_per_km"], low, 1.25 * low, "scattering from 850 nm, dB/km")


def link_models_are_near_the_cabling_maxima(t: Tables) -> Iterator[Finding]:
    """IEEE's link models use attenuations within 8 % of ISO's, or TIA's outside plant figure."""
    for row in t["attenuation"]:
        if row["grade"] == "link model":
            other = LINK_MODEL_OF.get(str(row["fibre_class"]), str(row["fibre_class"]))
            want = default_db_per_km(t, other, row["wavelength_nm"], "maximum") or 0.0
            yield found(
                row, row["attenuation_db_per_km"], 0.92 * want, 1.08 * want, f"maximum of {other} +- 8 %, dB/km"
            )


def alike_classes_lose_alike(t: Tables) -> Iterator[Finding]:
    """Fibres of one kind have one maximum: OM1 to OM4 at 850 and 1300 nm, OS1 and OS1a, G.652.D and G.657.A."""
    groups = (("OM1", "OM2", "62.5/160", "50/400", "OM3", "OM4"), ("OS1", "OS1a"), ("G.652.D", "G.657.A1", "G.657.A2"))
    maxima = [row for row in t["attenuation"] if row["grade"] == "maximum" and row["default"]]
    for group in groups:
        for row in maxima:
            at = row["wavelength_nm"], row["wavelength_to_nm"]
            like = [
                r for r in maxima if r["fibre_class"] in group and (r["wavelength_nm"], r["wavelength_to_nm"]) == at
            ]
            others = [r["attenuation_db_per_km"] for r in like if r is not row]
            if row["fibre_class"] in group and others:
                want = sorted(others)[len(others) // 2]
                yield found(row, row["attenuation_db_per_km"], want, want, f"as others of {', '.join(group)}, dB/km")


def cores_give_the_printed_mismatch(t: Tables) -> Iterator[Finding]:
    """62.5 into 50 um: 1.94 dB by 20 log10 of the cores (usual print 1.9), 2.77 dB more by the apertures."""
    for row in t["fibre_classes"]:
        if row["mode"] == "multimode":
            core_db = 20 * math.log10(row["core_um"] / 50.0)
            aperture_db = 20 * math.log10(row["numerical_aperture"] / 0.2)
            want = (1.94, 2.77) if row["core_um"] > 50 else (0.0, 0.0)
            near = abs(core_db - want[0]) < 0.01 and abs(aperture_db - want[1]) < 0.01
            yield Finding(row, near, f"into 50 um of 0.2: {core_db:.2f} and {aperture_db:.2f} dB, printed {want}")


def bandwidths_name_the_class(t: Tables) -> Iterator[Finding]:
    """A class named by two figures (62.5/160, 50/400) has that core and that bandwidth at 850 nm."""
    for row in t["modal_bandwidth"]:
        core, _, figure = row["fibre_class"].partition("/")
        if figure and row["wavelength_nm"] == 850:
            held = float(core) == classes(t)[row["fibre_class"]]["core_um"]
            yield Finding(row, held and row["modal_bandwidth_mhz_km"] == float(figure), "the figures in its name")


def mode_fields_follow_from_the_core(t: Tables) -> Iterator[Finding]:
    """A matched-cladding core of 8.2 um and aperture 0.12 has 9.2 +- 0.4 um at 1310 nm.

    w / a = 0.65 + 1.619 V^-1.5 + 2.879 V^-6   (Marcuse, BSTJ 56, 703 (1977))
    """
    v = 2 * math.pi * 4.1 * 0.12 / 1.31
    field_um = 2 * 4.1 * (0.65 + 1.619 * v**-1.5 + 2.879 * v**-6)
    for row in t["fibre_classes"]:
        if row["mode_field_um"] is not None:
            yield found(row, row["mode_field_um"], field_um - 0.4, field_um + 0.4, "Marcuse's mode field, um")


def group_indices_are_those_of_doped_silica(t: Tables) -> Iterator[Finding]:
    """Silica's group index and 1.15 x the core's index step, NA^2 / 2 n^2, more (germania; memory), to 0.2 %."""
    steps = {"single-mode": 0.12, "50 um": 0.2, "OM4": 0.2, "62.5 um": 0.275}
    for row in t["group_index"]:
        silica = silica_group_index(row["wavelength_nm"] / 1000.0)
        want = silica * (1.0 + 1.15 * steps[row["fibre_class"]] ** 2 / (2 * 1.453**2))
        slack = 0.002 if row["default"] else 0.015  # an older tester had one setting for all
        low = max(silica, want * (1 - slack))
        yield found(row, row["group_index"], low, want * (1 + slack), "doped silica")


def bandwidths_stand_in_order(t: Tables) -> Iterator[Finding]:
    """Better classes have no less bandwidth; laser launch has more than overfilled; 953 nm has less than 850 nm."""
    order = ("62.5/160", "OM1", "50/400", "OM2", "OM3", "OM4", "OM5")
    table = {(r["fibre_class"], r["wavelength_nm"], r["launch"]): r for r in t["modal_bandwidth"]}
    figure = {k: row["modal_bandwidth_mhz_km"] for k, row in table.items()}
    for (name, nm, launch), row in table.items():
        mine = row["modal_bandwidth_mhz_km"]
        worse = [figure[c, 850.0, launch] for c in order[: order.index(name)] if (c, 850.0, launch) in table]
        holds = nm != 850.0 or all(mine >= other for other in worse)
        holds &= launch != "effective" or mine > figure[name, nm, "overfilled"]
        holds &= nm != 953.0 or mine < figure[name, 850.0, launch]
        yield Finding(row, holds, "the order of the classes, of launches and of wavelengths")


def om5_is_om4_at_850_nm(t: Tables) -> Iterator[Finding]:
    """OM5 is OM4 with its band widened: same bandwidths at 850 and 1300 nm."""
    table = {(r["fibre_class"], r["wavelength_nm"], r["launch"]): r for r in t["modal_bandwidth"]}
    for (name, nm, launch), row in table.items():
        other = table.get(({"OM5": "OM4", "OM4": "OM5"}.get(name, ""), nm, launch))
        if other is not None:
            same = row["modal_bandwidth_mhz_km"] == other["modal_bandwidth_mhz_km"]
            yield Finding(row, same, f"as {other['fibre_class']}: {other['modal_bandwidth_mhz_km']:g} MHz.km")


GLASS_CHECKS = (
    attenuation_is_above_scattering, a_typical_cable_keeps_the_maximum, maxima_at_1260_nm_follow_scattering,
    attenuation_at_953_nm_follows_scattering, link_models_are_near_the_cabling_maxima, alike_classes_lose_alike,
    cores_give_the_printed_mismatch, bandwidths_name_the_class, mode_fields_follow_from_the_core,
    group_indices_are_those_of_doped_silica, bandwidths_stand_in_order, om5_is_om4_at_850_nm,
)  # fmt: skip
