"""Schools: a primary with three generations of fibre, a secondary with a star of six blocks."""

from __future__ import annotations

from demo_maker.rows import Site


def primary() -> Site:
    """OM1, OM3 and OS2 side by side between two buildings; the newest not made off at all."""
    s = Site(
        "Primary school",
        name="Thrumbly Primary School",
        customer="Thrumbly school board (invented)",
        address="2 Chalk Row, Thrumbly (invented)",
        contact="caretaker",
        access="sign in at the desk; work out of school hours where children pass",
        hazards="old ceilings: see the asbestos register before drilling",
    )
    s.location("Main block", "Main block", "caretaker's cupboard", rack="R1")
    s.location("Hall", "Hall", "stage store")
    s.panel(
        "P0",
        "Main block",
        4,
        connector="ST",
        polish="PC",
        fibre_class="OM1",
        duplex=False,
        notes="earlier contractor's; labels faded",
    )
    s.panel("P1", "Main block", 6, fibre_class="OM3")
    s.panel("P2", "Main block", 12)
    s.panel("WB0", "Hall", 4, connector="ST", polish="PC", fibre_class="OM1", duplex=False, kind="wall box")
    s.panel("WB1", "Hall", 6, fibre_class="OM3", kind="wall box")
    s.panel("WB2", "Hall", 6, kind="wall box")
    s.cable(
        "C0",
        "P0",
        "WB0",
        4,
        110,
        "2004-08-16",
        fibre_class="OM1",
        basis="estimated",
        sheath="PVC, tight buffered, orange",
        route="roof space",
    )
    s.cable(
        "C1",
        "P1",
        "WB1",
        8,
        118,
        "2014-07-28",
        fibre_class="OM3",
        basis="marked",
        sheath="low smoke, tight buffered, aqua",
        route="roof space",
    )
    s.cable(
        "C2",
        "P2",
        "WB2",
        12,
        131,
        "2026-08-12",
        route="new duct under the playground",
        notes="pulled in with the playground works; to be made off when there is a use",
    )
    s.make_off("C0", "P0", 1, range(1, 5), method="field-fitted", by="", noted=False)
    s.make_off("C0", "WB0", 1, range(1, 5), method="field-fitted", by="", noted=False)
    s.make_off("C1", "P1", 1, range(1, 9), noted=False)
    s.make_off("C1", "WB1", 1, range(1, 9), noted=False)
    s.core("C0", [3], condition="faulty", fault_m=108, notes="no light; plug cracked at the hall")
    s.equipment("SW1", "Main block")
    s.equipment("SW2", "Hall")
    s.channel("CH1", "hall network", "1000BASE-SX", "SW1/25", "SW2/25", ("P1", 1), ("WB1", 1), "2014-07-30")
    s.cord([(("P1", "2", "A"), ("", "", "")), (("P1", "2", "B"), ("", "", ""))], "2024-05-30")
    return s


BLOCKS = (
    # block, location, OM class and cores of its multimode cable, its length in m, OS2 cores
    ("Science", "Science prep room", "OM4", 24, 148, 24),
    ("Arts", "Arts store", "OM4", 24, 212, 24),
    ("Sports", "Sports hall store", "OM3", 12, 236, 24),
    ("Sixth", "Sixth form riser", "OM4", 24, 92, 24),
    ("Kitchen", "Kitchen office", "OM3", 8, 64, 0),
)


def secondary() -> Site:
    """A star from the server room: OM3, OM4 and OS2; one channel joins Tx to Tx."""
    s = Site(
        "Secondary school",
        name="Zemblewick Secondary School",
        customer="Zemblewick school board (invented)",
        address="9 Slate Hill, Zemblewick (invented)",
        contact="network technician",
        access="visitor badge; lift key at the desk",
        hazards="science stores: chemicals; kitchens: wet floors",
        notes="all blocks home to the server room",
    )
    s.location("Server room", "Main block", "G.07", rack="R1")
    for panel, fibre_class in (("P1", "OM3"), ("P2", "OM4"), ("P4", "OM4")):
        s.panel(panel, "Server room", 24, fibre_class=fibre_class)
    s.panel("P3", "Server room", 24)
    s.equipment("SW1", "Server room", label="core switch")
    start = {"OM3": ("P1", 1), "OM4": ("P2", 1), "OS2": ("P3", 1)}
    for n, (block, room, om_class, om_cores, length_m, os_cores) in enumerate(BLOCKS, start=1):
        s.location(block, f"{block} block", room)
        s.equipment(f"SW{n + 1}", block)
        when = f"20{24 if om_class == 'OM4' else 15}-08-{10 + n}"
        for fibre_class, cores in ((om_class, om_cores), ("OS2", os_cores)):
            if not cores:
                continue
            home, first = start[fibre_class]
            away = f"{block[:2].upper()}-{fibre_class[:2]}"
            s.panel(away, block, 12 if cores > 12 else 6, fibre_class=fibre_class)
            single_tube = block == "Science" and fibre_class == "OM4"
            s.cable(
                f"MB-{block[:2].upper()}/{1 if fibre_class != 'OS2' else 2}",
                home,
                away,
                cores,
                length_m + (4 if fibre_class == "OS2" else 0),
                when,
                per_tube=None if single_tube or cores <= 12 else 12,
                fibre_class=fibre_class,
                sheath="low smoke, indoor and outdoor",
                route="service tunnel",
                notes="one tube of 24; cores 13 to 24 carry a tracer" if single_tube else "",
            )
            name = f"MB-{block[:2].upper()}/{1 if fibre_class != 'OS2' else 2}"
            used = range(1, cores + 1) if fibre_class != "OS2" else range(1, 5)
            s.make_off(name, home, first, used, by="TB", noted=om_class == "OM4")
            s.make_off(name, away, 1, used, by="TB", noted=om_class == "OM4")
            step = len(used) // 2
            start[fibre_class] = (home, first + step) if first + step <= 24 else ("P4", 1)
    return s


def use_secondary(s: Site) -> Site:
    """Put the secondary school's channels on: 10GBASE-SR on OM4, 1000BASE-SX on OM3, 10GBASE-LR on OS2."""
    s.channel("CH1", "science, 10 gigabit", "10GBASE-SR", "SW1/49", "SW2/49", ("P2", 1), ("SC-OM", 1), "2024-08-20")
    s.channel("CH2", "arts, 10 gigabit", "10GBASE-SR", "SW1/50", "SW3/49", ("P2", 13), ("AR-OM", 1), "2024-08-20")
    s.channel("CH3", "sports hall", "1000BASE-SX", "SW1/25", "SW4/25", ("P1", 1), ("SP-OM", 1), "2015-08-20")
    s.channel(
        "CH4",
        "sixth form, 10 gigabit",
        "10GBASE-SR",
        "SW1/51",
        "SW5/49",
        ("P4", 1),
        ("SI-OM", 1),
        "2024-08-21",
    )
    s.channel("CH5", "kitchen tills", "1000BASE-SX", "SW1/26", "SW6/9", ("P1", 7), ("KI-OM", 1), "2015-08-21")
    s.channel("CH6", "science, second path", "10GBASE-LR", "SW1/52", "SW2/50", ("P3", 1), ("SC-OS", 1), "2025-04-09")
    s.channel(
        "CH7",
        "arts media store",
        "10GBASE-SR",
        "SW1/53",
        "SW3/50",
        ("P2", 14),
        ("AR-OM", 2),
        "2026-09-02",
        slip=True,
    )
    s.core("MB-SC/1", [19, 20], reserved_for="laboratory benches")
    s.core("MB-SP/1", [11], condition="faulty", fault_m=201, notes="high loss since the roof was mended")
    return s


def sites() -> list[Site]:
    """All schools."""
    return [primary(), use_secondary(secondary())]
