"""The demo firm's visits over three years, and what it left open at its customers' sites."""

from __future__ import annotations

from demo_maker.rows import Site, day

VISITS = (
    # site, visited, by, done, notes
    ("Dairy", "2023-11-14", "RK", "pulled C1, made off 3 and 4 at the parlour", "mud; bring boards"),
    ("Dairy", "2024-03-05", "TB", "C2 to the calf shed, field-fitted plugs", ""),
    ("Dairy", "2024-09-17", "RK, EM", "C3 to the biogas house; two cores spliced through", "gas alarm worn"),
    ("Dairy", "2026-05-19", "EM", "cleaned all plugs at the parlour", ""),
    ("Grain store", "2024-06-11", "EM", "C1 pulled and made off; light check", "meter was at another site"),
    ("Stud", "2024-04-22", "RK, TB", "C1, C2, C3 pulled", ""),
    ("Stud", "2024-04-24", "RK", "closure J1 spliced", ""),
    ("Stud", "2025-01-30", "TB", "branch to stable B: mechanical splices", "rain; no power for the splicer"),
    ("Glasshouse", "2024-02-13", "RK, EM", "C1 and C2 pulled and made off", ""),
    ("Glasshouse", "2025-05-06", "RK", "two controllers put on", ""),
    ("Primary school", "2024-05-30", "EM", "took over the old cables, tested OM3", "OM1 not worth keeping"),
    ("Primary school", "2026-08-12", "TB, EM", "C2 pulled into the playground duct", "not made off"),
    ("Secondary school", "2024-08-11", "TB, RK", "three OM4 cables and their OS2 mates", ""),
    ("Secondary school", "2025-04-09", "RK", "science: second path put on", ""),
    (
        "Secondary school",
        "2026-09-02",
        "EM",
        "arts media store put on",
        "no link light when left; call the vendor",
    ),
    ("Boatyard", "2024-10-08", "RK", "C1 pulled and made off", ""),
    ("Boatyard", "2025-03-11", "TB", "till put on", ""),
    (
        "Boatyard",
        "2025-11-18",
        "RK",
        "recorder back on by a long loose cord across the loft",
        "temporary: come back",
    ),
    ("Harbour", "2024-01-16", "RK, TB, EM", "north side of the ring", ""),
    ("Harbour", "2024-11-05", "RK, EM", "south side of the ring, by road", "traffic lights hired"),
    ("Harbour", "2025-06-03", "RK", "cable to the light; angled plugs", "swell; half a day lost"),
    (
        "Harbour",
        "2025-06-05",
        "TB",
        "light's cameras put on from the market",
        "used the cord that was in the van",
    ),
    ("Marina", "2025-02-18", "RK, EM", "C1 to C5, J1 and J2", ""),
    ("Marina", "2025-05-13", "TB", "two single-fibre cameras", ""),
    ("Marina", "2025-09-09", "EM", "C6 to pontoon D", ""),
    ("Marina", "2026-04-14", "RK", "found the break at pontoon B's hinge", ""),
    ("Campus", "2024-06-18", "RK, TB, EM", "ring, first half", ""),
    ("Campus", "2024-07-02", "RK, TB, EM", "ring, second half", ""),
    ("Campus", "2024-07-09", "RK, TB", "library and chemistry", ""),
    ("Campus", "2025-01-14", "RK", "chemistry from the data hall, cord in engineering", ""),
    ("Campus", "2025-03-25", "TB", "sports centre", "no time to test"),
    ("Campus", "2025-07-15", "RK, EM", "chord EN-AD/1 and north hall", ""),
    ("Campus", "2025-10-14", "RK, EM", "boiler house and the loop in chamber 7", "air tested"),
    ("Campus", "2025-12-02", "TB", "north hall switch taken out; cord left hanging", ""),
    ("Campus", "2026-03-03", "RK", "two dead cores in A1.10 found", ""),
    ("Halls", "2025-08-04", "EM, TB", "eight cables, eight houses", "five days"),
    ("Halls", "2025-08-28", "EM", "tested houses 1 to 3, light check 4 and 5", "called away"),
    ("Observatory", "2026-02-10", "RK", "C1 pulled, made off, tested", "dusk: red light only"),
    ("Mill", "2025-05-20", "RK, TB", "M3 and M4 beside the old cables", ""),
    ("Quarry", "2024-05-14", "RK, EM", "gate to crusher", "stopped twice for the siren"),
    ("Quarry", "2024-09-03", "EM, TB", "branch to the face", ""),
    (
        "Quarry",
        "2025-11-26",
        "TB",
        "digger through Q2 by chamber 1; two cores back the same night",
        "arc not allowed",
    ),
    ("Quarry", "2026-06-09", "RK", "J3 flooded: two splices made again", "no meter with us; test next time"),
    ("Depot", "2024-03-19", "RK", "C1 and C2", ""),
    ("Units", "2025-04-08", "EM", "landlord's cupboard to both units", ""),
    (
        "Units",
        "2026-03-10",
        "EM",
        "ready-made cable through the party wall",
        "not tested: came with plugs on",
    ),
    ("Brewery", "2024-11-26", "RK", "C1, ready made", ""),
    ("Foundry", "2026-01-13", "RK, TB", "four cables on the crane rail", "crane locked off by the planner"),
    ("Foundry", "2026-11-17", "EM", "looked at the fettling cable, no test yet", ""),
)

SNAGS = (
    # site, found, what, where, done, by
    ("Dairy", "2024-03-05", "gland at the calf shed not sealed", "WB2", "2024-09-17", "EM"),
    ("Dairy", "2026-05-19", "label missing on cord of the gas engine", "WB1 port 3", None, ""),
    ("Stud", "2025-01-30", "mechanical splices: replace by fusion in the dry", "J1 tray 2", None, ""),
    ("Glasshouse", "2025-05-06", "wall box lid cracked", "WB2", "2025-05-06", "RK"),
    ("Primary school", "2024-05-30", "old cables without labels", "P0, WB0", None, ""),
    ("Primary school", "2026-08-12", "new cable coiled, ends capped, not made off", "P2, WB2", None, ""),
    ("Secondary school", "2026-09-02", "arts media store has no link", "P2 port 14", None, ""),
    ("Secondary school", "2024-08-21", "sports hall core 11 loses too much", "MB-SP/1", None, ""),
    ("Boatyard", "2025-11-18", "temporary cord across the loft: replace and dress", "P1 port 2", None, ""),
    ("Boatyard", "2024-10-08", "duct mouth open to rats", "Shed 2", "2025-03-11", "TB"),
    ("Harbour", "2025-06-05", "cord joins a blue panel to a green one", "P1 port 2 to P2 port 2", None, ""),
    ("Harbour", "2024-01-18", "tray lid missing", "P4", "2024-11-06", "RK"),
    ("Marina", "2026-04-14", "core broken at the hinge", "C3 core 5", None, ""),
    ("Marina", "2025-02-22", "cores 7 to 12 to pontoon B not made off", "WB-B", None, ""),
    ("Campus", "2025-03-25", "sports centre not tested", "AR-SP/1", None, ""),
    ("Campus", "2025-12-02", "cord hanging", "north hall", None, ""),
    ("Campus", "2024-07-09", "chamber 3 lid rocks", "chamber 3", "2024-07-30", "estates office"),
    ("Campus", "2026-03-03", "kinked tube", "AR-AD/1 at A1.10", None, ""),
    ("Halls", "2025-08-29", "houses 4 to 8: loss tests owing", "H4 to H8", None, ""),
    ("Mill", "2025-05-22", "second network of the drives drops frames", "M2", None, ""),
    ("Quarry", "2025-11-27", "night repair: fuse again in daylight", "J1 tray 1", None, ""),
    ("Depot", "2024-03-22", "meter battery flat: light check only on C1", "P1", None, ""),
    ("Units", "2026-03-10", "fire stopping to be signed off", "party wall", "2026-03-24", "landlord's agent"),
    ("Foundry", "2026-01-19", "fettling not tested: furnace tapped", "F4", None, ""),
)


def add_visits(sites: dict[str, Site]) -> None:
    """Add visits and snags to their sites, numbered site by site."""
    for site, when, by, done, notes in VISITS:
        s = sites[site]
        s.add(
            "visits",
            visit=f"V{len(s.tables['visits']) + 1}",
            visited_on=day(when),
            visited_by=by,
            done=done,
            notes=notes,
        )
    for site, found, what, where, done, by in SNAGS:
        s = sites[site]
        s.add(
            "snags",
            snag=f"S{len(s.tables['snags']) + 1}",
            found_on=day(found),
            what=what,
            where=where,
            done_on=day(done) if done else None,
            done_by=by,
        )
