"""Works and industry: a mill, a quarry, a depot, business units, a brewery, a foundry."""

from __future__ import annotations

from demo_maker.rows import Site, day


def mill() -> Site:
    """Old OM1 with 100BASE-FX still on it, one link too long for 1000BASE-SX, new OS2 beside."""
    s = Site(
        "Mill",
        name="Thrumbly Paper Mill",
        customer="Thrumbly Paper (invented)",
        address="Weir Lane, Thrumbly (invented)",
        contact="control room",
        access="induction; dust mask in the finishing hall",
        hazards="machines start by themselves; wet floors; mains at 690 V in the drives room",
    )
    for location, building in (
        ("Control", "Control room"),
        ("Pulper", "Pulper house"),
        ("Drives", "Drives room"),
        ("Store", "Reel store"),
    ):
        s.location(location, building)
    s.panel("P1", "Control", 24, connector="ST", polish="PC", fibre_class="OM1", duplex=False)
    s.panel("P2", "Control", 24)
    s.panel("P3", "Pulper", 12, connector="ST", polish="PC", fibre_class="OM1", duplex=False)
    s.panel("P4", "Drives", 12, connector="ST", polish="PC", fibre_class="OM1", duplex=False)
    s.panel("P5", "Store", 24)
    s.panel("P6", "Drives", 12)
    s.cable(
        "M1",
        "P1",
        "P3",
        12,
        262,
        "1997-05-12",
        fibre_class="OM1",
        basis="estimated",
        route="pipe bridge",
        sheath="PVC, tight buffered, orange",
        colour_code="IEC 60304",
    )
    s.cable(
        "M2",
        "P1",
        "P4",
        12,
        410,
        "1997-05-13",
        fibre_class="OM1",
        basis="estimated",
        route="pipe bridge",
        sheath="PVC, tight buffered, orange",
        colour_code="IEC 60304",
    )
    s.cable("M3", "P2", "P5", 96, 356, "2025-05-20", per_tube=12, route="pipe bridge, new tray")
    s.cable("M4", "P2", "P6", 24, 421, "2025-05-21", per_tube=12, route="pipe bridge, new tray")
    for cable, away, start in (("M1", "P3", 1), ("M2", "P4", 13)):
        s.make_off(cable, "P1", start, range(1, 13), method="field-fitted", by="", noted=False)
        s.make_off(cable, away, 1, range(1, 13), method="field-fitted", by="", noted=False)
    s.make_off("M3", "P2", 1, range(1, 25))
    s.make_off("M3", "P5", 1, range(1, 49))
    s.make_off("M4", "P2", 13, range(1, 25), by="TB")
    s.make_off("M4", "P6", 1, range(1, 25), by="TB")
    s.core("M1", [9, 10], condition="faulty", fault_m=260, notes="plugs worn out at the pulper")
    s.core("M4", range(21, 25), reserved_for="drives vendor")
    for name, where in (("SW1", "Control"), ("SW2", "Pulper"), ("SW3", "Drives"), ("SW4", "Store")):
        s.equipment(name, where)
    s.equipment("PLC1", "Pulper", kind="controller", label="pulper controller")
    s.equipment("PLC2", "Drives", kind="controller", label="drives controller")
    s.channel("CH1", "pulper controller", "100BASE-FX", "SW1/1", "PLC1/1", ("P1", 1), ("P3", 1), "1997-06-02")
    s.channel("CH2", "drives controller", "100BASE-FX", "SW1/2", "PLC2/1", ("P1", 13), ("P4", 1), "1997-06-02")
    s.channel("CH3", "pulper network", "1000BASE-SX", "SW1/25", "SW2/25", ("P1", 3), ("P3", 3), "2009-11-10")
    s.channel(
        "CH6",
        "drives, second network",
        "1000BASE-SX",
        "SW1/27",
        "SW3/26",
        ("P1", 15),
        ("P4", 3),
        "2011-03-01",
    )
    s.channel("CH4", "reel store network", "10GBASE-LR", "SW1/49", "SW4/49", ("P2", 1), ("P5", 1), "2025-05-26")
    s.channel("CH5", "drives network", "1000BASE-LX", "SW1/26", "SW3/25", ("P2", 13), ("P6", 1), "2025-05-26")
    return s


def quarry() -> Site:
    """A long line over three closures, mended with mechanical splices; tubes of mixed size."""
    s = Site(
        "Quarry",
        name="Grumbledown Quarry",
        customer="Grumbledown Stone (invented)",
        address="Grumbledown (no such hill)",
        contact="quarry manager",
        access="radio, high-visibility clothing, escort; stop at the siren",
        hazards="blasting; haul trucks; dust; loose faces",
    )
    for location, building in (
        ("Gate", "Gate office"),
        ("Chamber 1", "outdoors"),
        ("Chamber 2", "outdoors"),
        ("Chamber 3", "outdoors"),
        ("Crusher", "Crusher house"),
        ("Face", "Face shelter"),
    ):
        s.location(location, building)
    s.panel("P1", "Gate", 24)
    for n in (1, 2, 3):
        s.closure(f"J{n}", f"Chamber {n}", trays=3)
    s.panel("P2", "Crusher", 18)
    s.panel("WB1", "Face", 6, kind="wall box")
    mixed = {"tube_sizes": "12, 12, 6", "colour_code": "IEC 60304", "route": "haul road verge"}
    s.cable("Q1", "P1", "J1", 30, 1190, "2024-05-14", notes="tubes of 12, 12 and 6", **mixed)
    s.cable("Q2", "J1", "J2", 30, 1240, "2024-05-15", notes="tubes of 12, 12 and 6", **mixed)
    s.cable("Q3", "J2", "P2", 30, 880, "2024-05-16", notes="tubes of 12, 12 and 6", **mixed)
    s.cable("Q4", "J2", "J3", 12, 610, "2024-09-03", colour_code="IEC 60304", basis="marked", route="face track")
    s.cable("Q5", "J3", "WB1", 12, 340, "2024-09-04", colour_code="IEC 60304", basis="marked", route="face track")
    thirty, twelve = range(1, 31), range(1, 13)
    s.make_off("Q1", "P1", 1, thirty)
    # cores 1 and 2 were joined on the night of the digger: mechanical, never done again
    s.splice(
        "J1",
        1,
        1,
        ("Q1", [1, 2]),
        ("Q2", [1, 2]),
        "2025-11-27",
        method="mechanical",
        by="TB",
        losses=(0.46, 0.41),
        basis="measured",
    )
    s.splice("J1", 1, 3, ("Q1", thirty[2:]), ("Q2", thirty[2:]), "2024-05-17")
    s.splice("J2", 1, 1, ("Q2", range(1, 19)), ("Q3", range(1, 19)), "2024-05-17")
    s.splice("J2", 3, 1, ("Q2", range(19, 31)), ("Q4", twelve), "2024-09-05", by="EM")
    s.splice("J3", 1, 1, ("Q4", twelve), ("Q5", twelve), "2024-09-05", by="EM")
    for row in s.tables["splices"]:  # after the flood, by whoever was near; nobody had the meter
        if (row["enclosure"], row["tray"], row["slot"]) in (("J3", "1", "1"), ("J3", "1", "2")):
            row |= {"made_on": day("2026-06-09"), "made_by": "RK", "splicer": "splicer 1", "loss_db": 0.12}
    s.make_off("Q3", "P2", 1, range(1, 19))
    s.make_off("Q5", "WB1", 1, range(1, 7), by="EM")
    s.core("Q2", [11, 12], condition="faulty", fault_m=655, notes="crushed by the digger")
    s.core("Q3", [18], reserved_for="weighbridge")
    s.equipment("SW1", "Gate")
    s.equipment("SW2", "Crusher")
    s.equipment("SW3", "Face")
    s.equipment("RAD1", "Face", kind="radar", label="slope radar")
    s.channel("CH1", "crusher network", "1000BASE-LX", "SW1/25", "SW2/25", ("P1", 1), ("P2", 1), "2024-05-20")
    s.channel("CH2", "crusher cameras", "10GBASE-LR", "SW1/49", "SW2/49", ("P1", 2), ("P2", 2), "2024-05-20")
    s.channel("CH3", "face network", "1000BASE-LX10", "SW1/26", "SW3/9", ("P1", 10), ("WB1", 1), "2024-09-06")
    s.channel("CH4", "slope radar", "1000BASE-LX", "SW1/27", "RAD1/1", ("P1", 11), ("WB1", 2), "2025-02-04")
    return s


def depot() -> Site:
    """Two cables, every core taken, broken or promised."""
    s = Site(
        "Depot",
        name="Upper Quorl Bus Depot",
        customer="Quorl Omnibus (invented)",
        address="Turning Circle, Upper Quorl (invented)",
        contact="shift controller",
        access="walk on the green path",
        hazards="buses reverse; inspection pits",
    )
    s.location("Control", "Control room", rack="R1")
    s.location("Wash", "Wash hall")
    s.location("Fuel", "Fuel island kiosk")
    s.panel("P1", "Control", 12)
    s.panel("WB1", "Wash", 6, kind="wall box")
    s.panel("WB2", "Fuel", 4, kind="wall box")
    s.cable("C1", "P1", "WB1", 12, 154, "2024-03-19", route="gantry")
    s.cable("C2", "P1", "WB2", 8, 71, "2024-03-20", route="forecourt duct")
    s.make_off("C1", "P1", 1, range(1, 13))
    s.make_off("C1", "WB1", 1, range(1, 13))
    s.make_off("C2", "P1", 7, range(1, 9))
    s.make_off("C2", "WB2", 1, range(1, 9))
    s.core("C1", [11, 12], condition="faulty", fault_m=3, notes="pigtails broken in the panel")
    s.core("C2", [7, 8], reserved_for="electric chargers")
    s.equipment("SW1", "Control")
    s.equipment("SW2", "Wash")
    s.equipment("SW3", "Fuel")
    for n, purpose in enumerate(("network", "cameras", "ticketing", "clocks", "public address"), start=1):
        s.channel(
            f"CH{n}",
            f"wash hall {purpose}",
            "1000BASE-LX10",
            f"SW1/{n}",
            f"SW2/{n}",
            ("P1", n),
            ("WB1", n),
            "2024-03-25",
        )
    for n, purpose in enumerate(("network", "cameras", "pumps"), start=1):
        s.channel(
            f"CH{n + 5}",
            f"fuel {purpose}",
            "1000BASE-LX10",
            f"SW1/{n + 10}",
            f"SW3/{n}",
            ("P1", n + 6),
            ("WB2", n),
            "2024-03-26",
        )
    return s


def units() -> Site:
    """Neighbouring premises of three customers, joined by cables: one site."""
    s = Site(
        "Units",
        name="Weir Lane units",
        customer="Weir Lane Lettings (invented), landlord",
        address="Weir Lane 4 to 8, Thrumbly (invented)",
        contact="landlord's agent",
        access="agent opens the landlord's cupboard; each unit by its own tenant",
        hazards="roof lights: crawling boards",
        notes="one site, three premises: the cable between units 1 and 2 crosses the boundary",
    )
    s.location("Cupboard", "Block", "landlord's cupboard", premises="Landlord", rack="R1")
    s.location("Unit 1", "Unit 1", "office", premises="Unit 1: sign makers (invented)")
    s.location("Unit 2", "Unit 2", "mezzanine", premises="Unit 2: joiners (invented)")
    s.panel("P1", "Cupboard", 24)
    s.panel("U1", "Unit 1", 24, kind="wall box")
    s.panel("U2", "Unit 2", 12, kind="wall box")
    s.cable("L-U1/1", "P1", "U1", 24, 48, "2025-04-08", per_tube=12, route="loft")
    s.cable("L-U2/1", "P1", "U2", 12, 66, "2025-04-08", route="loft")
    s.cable(
        "U1-U2/1",
        "U1",
        "U2",
        4,
        24,
        "2026-03-10",
        route="through the party wall, fire stopped",
        notes="paid by the joiners; the sign makers let it pass",
    )
    s.make_off("L-U1/1", "P1", 1, range(1, 13))
    s.make_off("L-U1/1", "U1", 1, range(1, 13))
    s.make_off("L-U2/1", "P1", 13, range(1, 13))
    s.make_off("L-U2/1", "U2", 1, range(1, 13))
    s.make_off("U1-U2/1", "U1", 13, range(1, 5), method="factory-fitted")
    s.make_off("U1-U2/1", "U2", 7, range(1, 5), method="factory-fitted")
    for name, where in (("SW1", "Cupboard"), ("SW2", "Unit 1"), ("SW3", "Unit 2"), ("NAS1", "Unit 1")):
        s.equipment(name, where, kind="file store" if name == "NAS1" else "switch")
    s.channel("CH1", "unit 1 internet", "1000BASE-LX10", "SW1/1", "SW2/25", ("P1", 1), ("U1", 1), "2025-04-14")
    s.channel("CH2", "unit 2 internet", "1000BASE-LX10", "SW1/2", "SW3/25", ("P1", 13), ("U2", 1), "2025-04-14")
    s.channel(
        "CH3",
        "joiners' files kept at the sign makers'",
        "10GBASE-LR",
        "NAS1/1",
        "SW3/49",
        ("U1", 13),
        ("U2", 7),
        "2026-03-11",
    )
    return s


def brewery() -> Site:
    """Eight angled cores, six used and two promised."""
    s = Site(
        "Brewery",
        name="Gargle Lane Brewery",
        customer="Gargle Lane Brewing (invented)",
        address="Gargle Lane, Zemblewick (invented)",
        contact="head brewer",
        access="white coat and hair net",
        hazards="carbon dioxide in the cellars: wear the alarm",
    )
    s.location("Office", "Brewery office", rack="R1")
    s.location("Cellar", "Cellar", "plant corner")
    s.panel("P1", "Office", 8, connector="SC", polish="APC", duplex=False)
    s.panel("P2", "Cellar", 8, connector="SC", polish="APC", duplex=False, kind="wall box")
    s.cable("C1", "P1", "P2", 8, 57, "2024-11-26", basis="marked", route="pipe rack")
    s.make_off("C1", "P1", 1, range(1, 9), method="factory-fitted")
    s.make_off("C1", "P2", 1, range(1, 9), method="factory-fitted")
    s.core("C1", [7, 8], reserved_for="bottling line")
    s.equipment("SW1", "Office")
    s.equipment("SW2", "Cellar")
    s.equipment("PLC1", "Cellar", kind="controller")
    s.equipment("PLC2", "Cellar", kind="controller")
    s.channel("CH1", "cellar network", "1000BASE-LX", "SW1/9", "SW2/9", ("P1", 1), ("P2", 1), "2024-11-27")
    s.channel("CH2", "fermenters", "1000BASE-LX", "SW1/10", "PLC1/1", ("P1", 3), ("P2", 3), "2024-11-27")
    s.channel("CH3", "cooling", "1000BASE-LX", "SW1/11", "PLC2/1", ("P1", 5), ("P2", 5), "2025-06-18")
    return s


def foundry() -> Site:
    """A star of four shops on FC and E2000 connectors, with whole tubes left coiled."""
    s = Site(
        "Foundry",
        name="Port Ombry Foundry",
        customer="Ombry Castings (invented)",
        address="Clinker Road, Port Ombry (invented)",
        contact="maintenance planner",
        access="heat-proof boots in the casting hall",
        hazards="molten metal; cranes; strong magnets",
    )
    s.location("Main", "Main office", "computer room", rack="R2")
    s.equipment("SW1", "Main", label="core switch")
    s.panel("P1", "Main", 48, connector="E2000", polish="APC", duplex=False)
    s.panel("P2", "Main", 48, connector="FC", duplex=False)
    for n, shop in enumerate(("Pattern shop", "Core shop", "Casting hall", "Fettling"), start=1):
        s.location(shop, shop, "cabinet")
        green = n <= 2
        s.panel(
            f"S{n}",
            shop,
            24,
            connector="E2000" if green else "FC",
            polish="APC" if green else "UPC",
            duplex=False,
        )
        home, start = "P1" if green else "P2", 1 if n % 2 else 25
        s.cable(f"F{n}", home, f"S{n}", 72, 130 + 55 * n, f"2026-01-{12 + n}", per_tube=12, route="crane rail")
        s.make_off(f"F{n}", home, start, range(1, 25))
        s.make_off(f"F{n}", f"S{n}", 1, range(1, 13))
        s.equipment(f"SW{n + 1}", shop)
        s.channel(
            f"CH{n}",
            f"{shop.lower()} network",
            "1000BASE-LX10",
            f"SW1/{n}",
            f"SW{n + 1}/9",
            (home, start),
            (f"S{n}", 1),
            "2026-01-20",
        )
    return s


def sites() -> list[Site]:
    """All works."""
    return [mill(), quarry(), depot(), units(), brewery(), foundry()]
