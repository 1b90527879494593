"""The demo firm's tests: which cables were tested how, and what the meter showed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from demo_maker.follow import Plant
from demo_maker.light import ATTENUATION_DB_PER_KM
from demo_maker.rows import Site, day

TYPICAL_DB_PER_KM = {  # what a sound cable shows; common practice, no source
    ("OM1", 850): 2.9,
    ("OM1", 1300): 0.9,
    ("OM3", 850): 2.4,
    ("OM3", 1300): 0.6,
    ("OM4", 850): 2.3,
    ("OM4", 1300): 0.6,
    ("OS2", 1310): 0.34,
    ("OS2", 1550): 0.21,
}

# site, cable, cores from, to, method (a loss test unless "light check"), tested, by, reference
PLAN: tuple[tuple[str, str, int, int, str, str, str, str], ...] = (
    ("Dairy", "C1", 1, 8, "both ways", "2024-09-19", "RK", "one-cord"),
    ("Dairy", "C3", 3, 8, "both ways", "2024-09-19", "RK", "one-cord"),
    ("Grain store", "C1", 1, 4, "light check", "2024-06-12", "EM", ""),
    ("Stud", "C1", 1, 6, "both ways", "2024-04-25", "RK", "one-cord"),
    ("Stud", "C1", 7, 10, "one way", "2025-01-30", "TB", "two-cord"),
    ("Glasshouse", "C1", 1, 12, "both ways", "2024-02-15", "RK", "one-cord"),
    ("Glasshouse", "C2", 1, 4, "light check", "2024-02-15", "RK", ""),
    ("Primary school", "C1", 1, 8, "one way", "2024-05-30", "EM", "one-cord"),
    ("Secondary school", "MB-SC/1", 1, 24, "both ways", "2024-08-19", "TB", "one-cord"),
    ("Secondary school", "MB-AR/1", 1, 12, "both ways", "2024-08-19", "TB", "one-cord"),
    ("Secondary school", "MB-SI/1", 1, 24, "one way", "2024-08-20", "TB", "one-cord"),
    ("Secondary school", "MB-SP/1", 1, 12, "one way", "2024-08-21", "TB", "one-cord"),
    ("Secondary school", "MB-SC/2", 1, 4, "both ways", "2025-04-09", "RK", "one-cord"),
    ("Boatyard", "C1", 1, 8, "both ways", "2024-10-09", "RK", "one-cord"),
    ("Harbour", "HO-FM/1", 1, 24, "both ways", "2024-01-18", "RK", "one-cord"),
    ("Harbour", "FM-IH/1", 1, 8, "both ways", "2024-01-18", "RK", "one-cord"),
    ("Harbour", "IH-LK/1", 1, 12, "both ways", "2024-11-07", "RK", "one-cord"),
    ("Harbour", "LK-HO/1", 1, 12, "one way", "2024-11-07", "EM", "one-cord"),
    ("Marina", "C1", 1, 12, "both ways", "2025-02-24", "RK", "one-cord"),
    ("Marina", "C1", 13, 18, "one way", "2025-02-24", "EM", "one-cord"),
    ("Marina", "C1", 25, 28, "both ways", "2025-02-24", "RK", "one-cord"),
    ("Marina", "C1", 33, 36, "light check", "2025-09-11", "EM", ""),
    ("Campus", "DH-EN/1", 1, 24, "both ways", "2024-06-25", "RK", "one-cord"),
    ("Campus", "EN-AR/1", 1, 24, "both ways", "2024-06-26", "RK", "one-cord"),
    ("Campus", "AR-AD/1", 1, 24, "both ways", "2024-07-08", "RK", "one-cord"),
    ("Campus", "AD-DH/1", 1, 24, "one way", "2024-07-08", "TB", "one-cord"),
    ("Campus", "EN-AD/1", 1, 8, "both ways", "2025-07-22", "RK", "one-cord"),
    ("Campus", "DH-LB/1", 1, 12, "one way", "2024-07-11", "TB", "one-cord"),
    ("Campus", "EN-CH/1", 1, 24, "one way", "2024-07-12", "TB", "one-cord"),
    ("Campus", "AD-HN/1", 1, 8, "light check", "2025-07-23", "EM", ""),
    ("Campus", "AD-BH/1", 1, 24, "both ways", "2025-10-20", "RK", "one-cord"),
    ("Campus", "DH-EN/2", 1, 4, "both ways", "2024-06-25", "RK", "one-cord"),
    ("Campus", "DH-AD/2", 1, 4, "one way", "2024-07-08", "TB", "three-cord"),
    ("Halls", "H1/1", 1, 12, "both ways", "2025-08-28", "EM", "one-cord"),
    ("Halls", "H2/1", 1, 12, "both ways", "2025-08-28", "EM", "one-cord"),
    ("Halls", "H3/1", 1, 12, "one way", "2025-08-29", "EM", "one-cord"),
    ("Halls", "H4/1", 1, 12, "light check", "2025-08-29", "EM", ""),
    ("Halls", "H5/1", 1, 12, "light check", "2025-08-29", "EM", ""),
    ("Observatory", "C1", 1, 24, "both ways", "2026-02-11", "RK", "one-cord"),
    ("Mill", "M1", 1, 4, "one way", "2025-05-22", "TB", "two-cord"),
    ("Mill", "M2", 1, 4, "one way", "2025-05-22", "TB", "two-cord"),
    ("Mill", "M3", 1, 24, "both ways", "2025-05-22", "RK", "one-cord"),
    ("Mill", "M4", 1, 24, "both ways", "2025-05-23", "RK", "one-cord"),
    ("Quarry", "Q1", 1, 18, "both ways", "2024-05-18", "RK", "one-cord"),
    ("Quarry", "Q1", 1, 2, "one way", "2025-11-27", "TB", "one-cord"),
    ("Quarry", "Q1", 19, 24, "one way", "2024-09-06", "EM", "one-cord"),
    ("Depot", "C1", 1, 10, "light check", "2024-03-22", "RK", ""),
    ("Depot", "C2", 1, 8, "both ways", "2024-03-22", "RK", "one-cord"),
    ("Units", "L-U1/1", 1, 12, "both ways", "2025-04-11", "EM", "one-cord"),
    ("Units", "L-U2/1", 1, 12, "both ways", "2025-04-11", "EM", "one-cord"),
    ("Brewery", "C1", 1, 4, "one way", "2024-11-27", "RK", "one-cord"),
    ("Foundry", "F1", 1, 12, "both ways", "2026-01-19", "RK", "one-cord"),
    ("Foundry", "F2", 1, 12, "both ways", "2026-01-19", "RK", "one-cord"),
    ("Foundry", "F3", 1, 12, "one way", "2026-01-19", "TB", "one-cord"),
)

# site, cable, core, tested, by: reflectometer shots on broken cores, at the distance recorded
SHOTS = (
    ("Primary school", "C0", 3, "2024-05-30", "EM"),
    ("Secondary school", "MB-SP/1", 11, "2024-08-21", "TB"),
    ("Boatyard", "C1", 7, "2025-11-18", "RK"),
    ("Harbour", "FM-IH/1", 8, "2024-01-18", "RK"),
    ("Marina", "C3", 5, "2026-04-14", "RK"),
    ("Campus", "AR-AD/1", 23, "2026-03-03", "RK"),
    ("Campus", "AR-AD/1", 24, "2026-03-03", "RK"),
    ("Mill", "M1", 9, "2025-05-22", "TB"),
    ("Quarry", "Q2", 11, "2025-11-27", "TB"),
    ("Quarry", "Q2", 12, "2025-11-27", "TB"),
)

# site, cable, core, tested, by, events of each way: metres from where light went in, dB, reflectance, what
BOTH_WAYS = (
    (
        "Quarry", "Q1", 3, "2025-11-27", "RK",
        {
            "a to b": ((1190.2, 0.09, None, "splice"), (2430.6, -0.04, None, "gainer"), (3310.9, None, -38.0, "end")),
            "b to a": ((879.7, 0.12, None, "splice"), (2120.1, 0.03, None, "splice"), (3310.9, None, -38.0, "end")),
        },
    ),
)  # fmt: skip


def made_off_at(site: Site, plant: Plant, cable: str, core: int) -> list[tuple[str, str, str]]:
    """Give the ports at which the link through a core is made off, end A first."""
    found = []
    for end in "AB":
        rear = [n for n in plant.out_of(("core", cable, core, end)) if n[0] == "rear"]
        if rear:
            found.append(rear[0][1:])
    return found


def lengths(plant: Plant, cable: str, core: int) -> tuple[float, str, float, int]:
    """Give a link's length in m, fibre class, loss of its splices in dB and how many there are."""
    nodes = []
    for end in "AB":
        for node in plant.out_of(("core", cable, core, end)):
            if node[0] != "core":
                break
            nodes.append(node)
    cables = list(dict.fromkeys(n[1:3] for n in nodes))
    splices = [plant.join[n][2] for n in nodes if n in plant.join and plant.join[n][1] == "splice"]
    metres = sum(plant.site.cables[c]["length_m"] for c, _ in cables)
    return metres, plant.site.cables[cable]["fibre_class"], sum(splices) / 2, len(splices) // 2


def add_tests(sites: dict[str, Site]) -> None:
    """Add all tests to their sites, numbered in the order of the plan."""
    for name, cable, first, last, method, when, by, reference in PLAN:
        site = sites[name]
        plant = Plant(site)
        for core in range(first, last + 1):
            if (cable, core) in plant.faulty or len(made_off_at(site, plant, cable, core)) != 2:
                continue
            if method == "light check":
                row(
                    site,
                    plant,
                    cable,
                    core,
                    "a to b",
                    when,
                    by,
                    method="light check",
                    verdict="pass",
                    instrument="visible red source",
                )
            else:
                meter(
                    site,
                    plant,
                    cable,
                    core,
                    ("a to b", "b to a") if method == "both ways" else ("a to b",),
                    when,
                    by,
                    reference,
                )
    for name, cable, core, when, by in SHOTS:
        site = sites[name]
        fault_m = next(r["fault_m"] for r in site.tables["cores"] if (r["cable"], r["core"]) == (cable, core))
        single = site.cables[cable]["fibre_class"] == "OS2"
        site.add(
            "tests",
            test=number(site),
            cable=cable,
            core=core,
            method="OTDR",
            direction="a to b",
            wavelength_nm=1550 if single else 850,
            length_m=fault_m,
            verdict="fail",
            instrument="reflectometer",
            tested_on=day(when),
            tested_by=by,
        )
    for name, cable, core, when, by, ways in BOTH_WAYS:
        for direction, events in ways.items():
            shot(sites[name], cable, core, direction, when, by, events)


def shot(
    site: Site, cable: str, core: int, direction: str, when: str, by: str, events: Sequence[tuple[Any, ...]]
) -> None:
    """Add an OTDR shot of a whole link and its table of events."""
    test = number(site)
    row(
        site, Plant(site), cable, core, direction, when, by, method="OTDR", wavelength_nm=1550, length_m=events[-1][0],
        verdict="pass", instrument="reflectometer",
    )  # fmt: skip
    for i, (metres, loss, reflectance, what) in enumerate(events, 1):
        site.add(
            "events", test=test, event=str(i), distance_m=metres, loss_db=loss, reflectance_db=reflectance, what=what
        )  # fmt: skip


def number(site: Site) -> str:
    """Give the next test number of a site."""
    return f"T{len(site.tables['tests']) + 1:04d}"


def row(site: Site, plant: Plant, cable: str, core: int, direction: str, when: str, by: str, **rest: Any) -> None:
    """Add one test from the port at end A of a link to the port at end B."""
    a, b = made_off_at(site, plant, cable, core)
    site.add(
        "tests",
        test=number(site),
        from_at=a[0],
        from_port=a[1],
        from_position=a[2],
        to_at=b[0],
        to_port=b[1],
        to_position=b[2],
        direction=direction,
        tested_on=day(when),
        tested_by=by,
        **rest,
    )


def meter(
    site: Site,
    plant: Plant,
    cable: str,
    core: int,
    directions: Sequence[str],
    when: str,
    by: str,
    reference: str,
) -> None:
    """Add loss tests of one link at both wavelengths; the verdict is against the cabling limit."""
    metres, fibre_class, splice_db, splices = lengths(plant, cable, core)
    if splices and day(when) < max_made_on(site, plant, cable, core):
        splice_db = 0.05 * splices  # tested before the mechanical splices went in
    plugs = [site.random.triangular(0.08, 0.55, 0.2) for _ in "ab"]
    for nm in (1310, 1550) if fibre_class == "OS2" else (850, 1300):
        typical = TYPICAL_DB_PER_KM[(fibre_class, nm)] * metres / 1000
        limit = ATTENUATION_DB_PER_KM[(fibre_class, nm)] * metres / 1000 + 2 * 0.75 + 0.3 * (splices + 2)
        for direction in directions:
            loss = round(typical + splice_db + sum(plugs) + site.random.uniform(-0.03, 0.03) + 0.08, 2)
            verdict = "fail" if loss > limit else "marginal" if loss > limit - 0.1 else "pass"
            row(
                site,
                plant,
                cable,
                core,
                direction,
                when,
                by,
                method="loss test",
                wavelength_nm=nm,
                reference_method=reference,
                loss_db=loss,
                verdict=verdict,
                instrument="source and meter, set 1" if by == "RK" else "source and meter, set 2",
            )


def max_made_on(site: Site, plant: Plant, cable: str, core: int) -> date:
    """Give the day of the newest splice on a link, so that an older test does not see it."""
    cores = {n[1:3] for n in plant.path(cable, core) if n[0] == "core"}
    days = [r["made_on"] for r in site.tables["splices"] if (r["a_cable"], r["a_core"]) in cores]
    return max(days, default=date.min)
