"""Farms: a dairy, a grain store, a stud and a glasshouse."""

from __future__ import annotations

from demo_maker.rows import Site


def dairy() -> Site:
    """Four buildings in a row and a spur; onward hops by splice and by cord; a single-fibre camera."""
    s = Site(
        "Dairy",
        name="Nether Quorl Dairy",
        customer="Nether Quorl Dairy (invented)",
        address="1 Imaginary Lane, Nether Quorl",
        contact="farm manager",
        access="report at the farmhouse; not during milking (4 to 7, both ends of the day)",
        hazards="slurry gas at the biogas house; electric fences",
    )
    s.location("Farmhouse", "Farmhouse", "office", rack="wall rack")
    s.location("Parlour", "Milking parlour", "plant room")
    s.location("Calf shed", "Calf shed", "gable end")
    s.location("Biogas", "Biogas house", "control room")
    s.panel("P1", "Farmhouse", 24)
    s.panel("WB1", "Parlour", 12, kind="wall box")
    s.panel("WB2", "Calf shed", 4, connector="SC", duplex=False, kind="wall box")
    s.panel("WB3", "Biogas", 6, kind="wall box")
    s.cable("C1", "P1", "WB1", 16, 182, "2023-11-14", per_tube=8, route="duct beside the drive")
    s.cable("C2", "P1", "WB2", 4, 96, "2024-03-05", basis="marked", route="catenary to the calf shed")
    s.cable("C3", "WB1", "WB3", 8, 318, "2024-09-17", route="direct buried, 600 mm, tape above")
    s.make_off("C1", "P1", 1, range(1, 17))
    s.make_off("C1", "WB1", 1, [3, 4])
    s.make_off("C1", "WB1", 3, [5, 6, 7, 8])  # 9 to 16 are made off at the farmhouse only
    s.make_off("C2", "P1", 13, range(1, 5), by="TB")
    s.make_off("C2", "WB2", 1, range(1, 5), method="field-fitted", by="TB")
    s.splice("WB1", 1, 1, ("C1", [1, 2]), ("C3", [1, 2]), "2024-09-18")
    s.make_off("C3", "WB3", 1, range(1, 9))
    s.make_off("C3", "WB1", 7, range(3, 9))
    s.equipment("SW1", "Farmhouse", label="office switch")
    s.equipment("SW2", "Parlour", label="parlour switch")
    s.equipment("SW3", "Biogas", label="biogas switch")
    s.equipment("PLC1", "Biogas", kind="controller", label="gas engine controller")
    s.equipment("CAM1", "Calf shed", kind="camera", label="calving camera")
    s.channel("CH1", "parlour network", "1000BASE-LX10", "SW1/25", "SW2/25", ("P1", 2), ("WB1", 1), "2023-11-15")
    s.channel(
        "CH2",
        "biogas network, spliced through the parlour",
        "1000BASE-LX10",
        "SW1/26",
        "SW3/25",
        ("P1", 1),
        ("WB3", 1),
        "2024-09-18",
    )
    s.channel(
        "CH3",
        "gas engine, patched through the parlour",
        "1000BASE-LX10",
        "SW1/27",
        "PLC1/SFP1",
        ("P1", 3),
        ("WB3", 2),
        "2024-09-18",
    )
    s.bridge(("WB1", 3), ("WB1", 7), "2024-09-18", length_m=0.5)
    s.one_fibre_channel(
        "CH4", "calving camera", "SW1/28", "CAM1/1", ("P1", ("13", "A")), ("WB2", ("1", "")), "2024-03-06"
    )
    return s


def grain() -> Site:
    """Two buildings, four cores, two channels: nothing left."""
    s = Site(
        "Grain store",
        name="Upper Quorl Grain Store",
        customer="Upper Quorl Growers (invented)",
        address="Mill Piece, Upper Quorl (no such road)",
        contact="store keeper",
        access="key at the weighbridge",
        hazards="grain dust; ladders above the bins",
    )
    s.location("Weighbridge", "Weighbridge office")
    s.location("Dryer", "Dryer house", "control cabin")
    s.panel("P1", "Weighbridge", 4, connector="SC", duplex=False, kind="wall box")
    s.panel("P2", "Dryer", 4, connector="SC", duplex=False, kind="wall box")
    s.cable("C1", "P1", "P2", 4, 143, "2024-06-11", basis="marked", route="along the conveyor bridge")
    for panel in ("P1", "P2"):
        s.make_off("C1", panel, 1, range(1, 5), method="field-fitted", by="EM")
    s.equipment("SW1", "Weighbridge")
    s.equipment("SW2", "Dryer")
    s.equipment("PLC1", "Dryer", kind="controller", label="dryer controller")
    s.channel("CH1", "dryer network", "1000BASE-LX10", "SW1/9", "SW2/9", ("P1", 1), ("P2", 1), "2024-06-12")
    s.channel(
        "CH2",
        "dryer controller",
        "1000BASE-LX10",
        "SW1/10",
        "PLC1/1",
        ("P1", 3),
        ("P2", 3),
        "2024-06-12",
        powers=False,
    )
    return s


def stud() -> Site:
    """A closure mid-route feeds two stables; one branch was mended with mechanical splices."""
    s = Site(
        "Stud",
        name="Thrumbly Stud",
        customer="Thrumbly Stud (invented)",
        address="The Gallops, Thrumbly (invented)",
        contact="stud groom",
        access="ring the yard bell; never between a mare and her foal",
        hazards="horses; no loud tools near the boxes",
    )
    s.location("Office", "Yard office")
    s.location("Chamber 1", "outdoors", "duct chamber by the oak", notes="lift with two keys")
    s.location("Stable A", "Stable A", "tack room")
    s.location("Stable B", "Stable B", "loft")
    s.panel("P1", "Office", 12)
    s.closure("J1", "Chamber 1")
    s.panel("WB1", "Stable A", 3, kind="wall box")
    s.panel("WB2", "Stable B", 3, kind="wall box")
    s.cable("C1", "P1", "J1", 12, 641, "2024-04-22", route="duct to the chamber by the oak")
    s.cable("C2", "J1", "WB1", 6, 122, "2024-04-22", route="duct to stable A")
    s.cable("C3", "J1", "WB2", 6, 208, "2024-04-23", basis="estimated", route="duct to stable B")
    s.make_off("C1", "P1", 1, range(1, 13))
    s.splice("J1", 1, 1, ("C1", range(1, 7)), ("C2", range(1, 7)), "2024-04-24")
    s.splice(
        "J1",
        2,
        1,
        ("C1", range(7, 11)),
        ("C3", range(1, 5)),
        "2025-01-30",
        method="mechanical",
        by="TB",
        losses=(0.22, 0.31, 0.18, 0.27),
        basis="measured",
    )
    s.make_off("C2", "WB1", 1, range(1, 7), noted=False)
    s.make_off("C3", "WB2", 1, range(1, 5), made_on="2025-01-30", by="TB")
    for name, where in (("SW1", "Office"), ("SW2", "Stable A"), ("SW3", "Stable B")):
        s.equipment(name, where)
    s.channel("CH1", "stable A network", "1000BASE-LX", "SW1/25", "SW2/9", ("P1", 1), ("WB1", 1), "2024-04-25")
    s.channel("CH2", "stable B network", "1000BASE-LX", "SW1/26", "SW3/9", ("P1", 4), ("WB2", 1), "2024-04-25")
    return s


def glasshouse() -> Site:
    """IEC 60304 cable with two cores swapped at one end; two spare cores left."""
    s = Site(
        "Glasshouse",
        name="Ombry Glasshouses",
        customer="Ombry Growers (invented)",
        address="Pane Road, Ombry (invented)",
        contact="head grower",
        access="overshoes; wash hands at the door",
        hazards="sprays: read the re-entry board first",
    )
    s.location("Packing", "Packing house", "office", rack="R1")
    s.location("House 3", "Glasshouse 3", "header house")
    s.location("Pumps", "Pump house")
    s.panel("P1", "Packing", 12)
    s.panel("WB1", "House 3", 6, kind="wall box")
    s.panel("WB2", "Pumps", 4, connector="SC", duplex=False, kind="wall box")
    s.cable("C1", "P1", "WB1", 12, 264, "2024-02-13", colour_code="IEC 60304", route="tray along the header")
    s.cable("C2", "P1", "WB2", 4, 88, "2024-02-14", colour_code="IEC 60304", route="duct under the yard")
    s.make_off("C1", "P1", 1, range(1, 13))
    # 7 and 8 changed places in the tray at House 3 and nobody saw it
    s.make_off("C1", "WB1", 1, [1, 2, 3, 4, 5, 6, 8, 7, 9, 10, 11, 12], by="EM")
    s.make_off("C2", "P1", 7, range(1, 5))
    s.make_off("C2", "WB2", 1, range(1, 5), method="factory-fitted")
    s.core("C1", range(9, 13), reserved_for="second irrigation header, 2027")
    for name, where in (("SW1", "Packing"), ("SW2", "House 3"), ("SW3", "House 3"), ("SW4", "Pumps")):
        s.equipment(name, where)
    s.equipment("PLC1", "House 3", kind="controller", label="climate controller")
    s.equipment("PLC2", "Pumps", kind="controller", label="pump controller")
    s.channel("CH1", "house 3 network", "1000BASE-LX10", "SW1/25", "SW2/25", ("P1", 1), ("WB1", 1), "2024-02-15")
    s.channel("CH2", "house 3 cameras", "1000BASE-LX10", "SW1/26", "SW3/25", ("P1", 2), ("WB1", 2), "2024-02-15")
    s.channel("CH3", "climate controller", "1000BASE-LX10", "SW1/27", "PLC1/1", ("P1", 3), ("WB1", 3), "2025-05-06")
    s.channel("CH4", "pump house network", "1000BASE-LX10", "SW1/28", "SW4/9", ("P1", 7), ("WB2", 1), "2024-02-15")
    s.channel("CH5", "pump controller", "1000BASE-LX10", "SW1/29", "PLC2/1", ("P1", 8), ("WB2", 3), "2025-05-06")
    return s


def sites() -> list[Site]:
    """All farms."""
    return [dairy(), grain(), stud(), glasshouse()]
