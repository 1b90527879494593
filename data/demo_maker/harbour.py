"""The harbour: a boatyard, the harbour's ring of four buildings, a marina with closures."""

from __future__ import annotations

from demo_maker.rows import Site


def boatyard() -> Site:
    """Two sheds and eight cores: a year-old temporary patch, a break, one core left."""
    s = Site(
        "Boatyard",
        name="Zemblewick Boatyard",
        customer="Zemblewick Boatyard (invented)",
        address="1 Slipway End, Zemblewick (invented)",
        contact="yard foreman",
        access="open 7 to 16; mind the crane",
        hazards="solvent and dust in shed 2; water's edge",
    )
    s.location("Shed 1", "Shed 1", "office loft")
    s.location("Shed 2", "Shed 2", "paint store wall")
    s.panel("P1", "Shed 1", 6, kind="wall box")
    s.panel("P2", "Shed 2", 6, kind="wall box")
    s.cable("C1", "P1", "P2", 8, 72, "2024-10-08", basis="marked", route="duct under the slipway")
    s.make_off("C1", "P1", 1, range(1, 9))
    s.make_off("C1", "P2", 1, range(1, 9))
    s.core("C1", [7], condition="faulty", fault_m=31, notes="break under the slipway")
    s.equipment("SW1", "Shed 1")
    s.equipment("SW2", "Shed 2")
    s.equipment("REC1", "Shed 2", kind="recorder", label="camera recorder")
    s.equipment("TILL1", "Shed 2", kind="till")
    s.channel("CH1", "shed 2 network", "1000BASE-LX10", "SW1/9", "SW2/9", ("P1", 1), ("P2", 1), "2024-10-09")
    s.optic("SW1/10", "1000BASE-LX10")
    s.optic("REC1/1", "1000BASE-LX10")
    s.plug("SW1/10", ("P1", 2), "2025-11-18", temporary="yes", length_m=10.0)
    s.plug("REC1/1", ("P2", 2), "2024-10-09", swapped=True)
    s.only_channel("CH2", "camera recorder", "1000BASE-LX10", "SW1/10", "REC1/1", "2024-10-09")
    s.channel("CH3", "shed 2 till", "1000BASE-LX10", "SW1/11", "TILL1/1", ("P1", 3), ("P2", 3), "2025-03-11")
    return s


def harbour() -> Site:
    """A ring of four buildings with unlike cables, and a spur with angled ferrules."""
    s = Site(
        "Harbour",
        name="Zemblewick Harbour",
        customer="Zemblewick Harbour Trust (invented)",
        address="Old Quay, Zemblewick (invented)",
        contact="harbour office, day watch",
        access="permit from the day watch; life jacket on the quay",
        hazards="quay edge, forklifts, radar mast (keep below the red line)",
    )
    s.location("Office", "Harbour office", "comms room", rack="R1")
    s.location("Market", "Fish market", "upper gallery", rack="R1")
    s.location("Ice house", "Ice house", "plant room")
    s.location("Lock", "Lock control", "ground floor", rack="R1")
    s.location("Light", "Harbour light", "base of the tower")
    s.panel("P1", "Office", 24)
    s.panel("P2", "Office", 6, connector="SC", polish="APC", notes="green: angled, never with blue plugs")
    s.panel("P3", "Market", 24)
    s.panel("P4", "Ice house", 24)
    s.panel("P5", "Lock", 24)
    s.panel("WB1", "Light", 3, connector="SC", polish="APC", kind="wall box")
    s.cable("HO-FM/1", "P1", "P3", 24, 286, "2024-01-16", per_tube=12, route="quay duct north")
    s.cable("FM-IH/1", "P3", "P4", 12, 174, "2024-01-17", route="quay duct north")
    s.cable("IH-LK/1", "P4", "P5", 24, 402, "2024-11-05", per_tube=12, route="lock duct")
    s.cable("LK-HO/1", "P5", "P1", 12, 655, "2024-11-06", route="road duct")
    s.cable("HO-HL/1", "P2", "WB1", 6, 820, "2025-06-03", route="breakwater, steel conduit")
    s.make_off("HO-FM/1", "P1", 1, range(1, 25))
    s.make_off("HO-FM/1", "P3", 1, [*range(1, 9), *range(11, 25)])
    s.splice("P3", 2, 1, ("HO-FM/1", [9, 10]), ("FM-IH/1", [3, 4]), "2024-01-18")
    s.make_off("FM-IH/1", "P3", 13, [1, 2, 5, 6, 7, 8])
    s.make_off("FM-IH/1", "P4", 1, range(1, 9))
    s.core("FM-IH/1", [8], condition="faulty", fault_m=12, notes="bent in the tray; not worth the risk")
    s.make_off("IH-LK/1", "P4", 7, range(1, 21))
    s.make_off("IH-LK/1", "P5", 1, range(1, 21))
    s.make_off("LK-HO/1", "P5", 13, range(1, 13))
    s.make_off("LK-HO/1", "P1", 13, range(1, 13))
    s.core("LK-HO/1", range(7, 11), reserved_for="tide gauges")
    s.make_off("HO-HL/1", "P2", 1, range(1, 7))
    s.make_off("HO-HL/1", "WB1", 1, range(1, 7))
    for name, where in (("SW1", "Office"), ("SW2", "Market"), ("SW3", "Ice house"), ("SW4", "Lock")):
        s.equipment(name, where)
    s.equipment("LAMP1", "Light", kind="controller", label="light and fog signal")
    s.equipment("SW5", "Light")
    s.channel("CH1", "ring, office to market", "10GBASE-LR", "SW1/49", "SW2/49", ("P1", 1), ("P3", 1), "2024-01-19")
    s.channel(
        "CH2",
        "ring, market to ice house",
        "10GBASE-LR",
        "SW2/50",
        "SW3/49",
        ("P3", 13),
        ("P4", 1),
        "2024-01-19",
    )
    s.channel("CH3", "ring, ice house to lock", "10GBASE-LR", "SW3/50", "SW4/49", ("P4", 7), ("P5", 1), "2024-11-07")
    s.channel("CH4", "ring, lock to office", "10GBASE-LR", "SW4/50", "SW1/50", ("P5", 13), ("P1", 13), "2024-11-07")
    s.channel("CH5", "lock gates", "1000BASE-LX", "SW4/25", "SW1/25", ("P5", 14), ("P1", 14), "2024-11-08")
    s.channel("CH6", "lock cameras", "1000BASE-LX", "SW4/26", "SW1/26", ("P5", 15), ("P1", 15), "2024-11-08")
    s.channel("CH7", "fog signal", "1000BASE-LX10", "SW1/27", "LAMP1/1", ("P2", 1), ("WB1", 1), "2025-06-04")
    # the light's second channel comes from the market: a cord joins the blue panel to the green one
    s.channel(
        "CH8",
        "light cameras from the market",
        "1000BASE-LX10",
        "SW2/25",
        "SW5/9",
        ("P3", 2),
        ("WB1", 2),
        "2025-06-05",
    )
    s.bridge(("P1", 2), ("P2", 2), "2025-06-05", length_m=1.0)
    return s


def marina() -> Site:
    """Pontoons fed through two closures, one core broken, spares of every kind."""
    s = Site(
        "Marina",
        name="Port Ombry Marina",
        customer="Port Ombry Berths (invented)",
        address="Pontoon Walk, Port Ombry (invented)",
        contact="berthing master",
        access="gate code from the berthing master",
        hazards="pontoons move; work in pairs",
    )
    s.location("Office", "Marina office", "store", rack="R1")
    s.location("Bridgehead", "outdoors", "bridgehead chamber")
    s.location("Pontoon C root", "outdoors", "chamber at pontoon C")
    for letter in "ABCD":
        s.location(f"Pontoon {letter}", f"Pontoon {letter}", "service pillar")
    s.panel("P1", "Office", 24)
    s.closure("J1", "Bridgehead", trays=4)
    s.closure("J2", "Pontoon C root")
    for letter in "ABCD":
        s.panel(f"WB-{letter}", f"Pontoon {letter}", 6, kind="wall box")
    s.cable("C1", "P1", "J1", 72, 233, "2025-02-18", per_tube=12, route="promenade duct")
    s.cable("C2", "J1", "WB-A", 12, 64, "2025-02-19", route="pontoon A tray")
    s.cable("C3", "J1", "WB-B", 12, 97, "2025-02-19", route="pontoon B tray")
    s.cable("C4", "J1", "J2", 24, 140, "2025-02-20", per_tube=12, route="sea wall duct")
    s.cable("C5", "J2", "WB-C", 12, 58, "2025-02-20", basis="marked", route="pontoon C tray")
    s.cable("C6", "J2", "WB-D", 12, 121, "2025-09-09", basis="marked", route="pontoon D tray")
    s.make_off("C1", "P1", 1, range(1, 41))
    s.splice("J1", 1, 1, ("C1", range(1, 13)), ("C2", range(1, 13)), "2025-02-21")
    s.splice("J1", 2, 1, ("C1", range(13, 25)), ("C3", range(1, 13)), "2025-02-21", by="EM")
    s.splice("J1", 3, 1, ("C1", range(25, 37)), ("C4", range(1, 13)), "2025-02-22")
    s.splice("J2", 1, 1, ("C4", range(1, 9)), ("C5", range(1, 9)), "2025-02-22")
    s.splice("J2", 2, 1, ("C4", range(9, 13)), ("C6", range(1, 5)), "2025-09-10")
    s.make_off("C2", "WB-A", 1, range(1, 13))
    s.make_off("C3", "WB-B", 1, range(1, 7), by="EM")
    s.make_off("C5", "WB-C", 1, range(1, 5))
    s.make_off("C6", "WB-D", 1, range(1, 5), made_on="2025-09-10")
    s.core("C3", [5], condition="faulty", fault_m=88, notes="crushed at the hinge of the gangway")
    s.equipment("SW1", "Office")
    ports = {"A": 1, "B": 7, "C": 13, "D": 17}
    for n, letter in enumerate("ABCD", start=1):
        s.equipment(f"SW{n + 1}", f"Pontoon {letter}")
        since = "2025-09-11" if letter == "D" else "2025-02-24"
        s.channel(
            f"CH{n}",
            f"pontoon {letter} network",
            "1000BASE-LX10",
            f"SW1/{24 + n}",
            f"SW{n + 1}/9",
            ("P1", ports[letter]),
            (f"WB-{letter}", 1),
            since,
        )
    s.equipment("CAM1", "Pontoon A", kind="camera")
    s.equipment("CAM2", "Pontoon A", kind="camera")
    s.one_fibre_channel(
        "CH5", "gangway camera", "SW1/29", "CAM1/1", ("P1", ("2", "A")), ("WB-A", ("2", "A")), "2025-05-13"
    )
    s.one_fibre_channel(
        "CH6", "fuel berth camera", "SW1/30", "CAM2/1", ("P1", ("2", "B")), ("WB-A", ("2", "B")), "2025-05-13"
    )
    return s


def sites() -> list[Site]:
    """All harbour customers."""
    return [boatyard(), harbour(), marina()]
