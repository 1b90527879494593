"""The campus group: a campus of nine buildings, halls of residence, an observatory."""

from __future__ import annotations

from demo_maker.rows import Site

BUILDINGS = (
    # location, building, room, notes
    ("DH", "Data hall", "row 1", ""),
    ("EN", "Engineering", "E0.02", ""),
    ("AD", "Administration", "basement", "low ceiling"),
    ("AR", "Arts", "A1.10", ""),
    ("LB", "Library", "stack 2", ""),
    ("CH", "Chemistry", "C0.11", "key from the laboratory steward"),
    ("SP", "Sports centre", "plant gallery", ""),
    ("HN", "North hall", "porter's store", ""),
    ("BH", "Boiler house", "control room", "hot pipes; ear defenders"),
)

BACKBONE = (
    # cable, building A, building B, cores, length m, made off at A, made off at B, installed
    ("DH-EN/1", "DH", "EN", 96, 412, 96, 96, "2024-06-18"),
    ("EN-AR/1", "EN", "AR", 96, 365, 72, 72, "2024-06-20"),
    ("AR-AD/1", "AR", "AD", 96, 298, 48, 48, "2024-07-02"),
    ("AD-DH/1", "AD", "DH", 96, 344, 96, 72, "2024-07-04"),
    ("EN-AD/1", "EN", "AD", 48, 521, 24, 24, "2025-07-15"),
    ("DH-LB/1", "DH", "LB", 96, 187, 48, 48, "2024-07-09"),
    ("EN-CH/1", "EN", "CH", 96, 226, 48, 36, "2024-07-10"),
    ("AR-SP/1", "AR", "SP", 24, 617, 24, 12, "2025-03-25"),
    ("AD-HN/1", "AD", "HN", 96, 438, 48, 24, "2025-07-16"),
)

OLD = (
    # cable, building A, building B, fibre class, cores, length m, installed, cores per tube
    ("DH-LB/2", "DH", "LB", "OM1", 24, 180, "2003-09-01", 12),
    ("DH-AD/2", "DH", "AD", "OM3", 24, 338, "2012-08-01", 12),
    ("DH-EN/2", "DH", "EN", "OM4", 24, 250, "2019-07-15", 12),
    ("EN-CH/2", "EN", "CH", "OM4", 24, 220, "2019-07-16", None),
)


class Filler:
    """Gives out the next free port of a building's panels of one fibre class, adding panels when full."""

    def __init__(self, site: Site) -> None:
        self.site = site
        self.next: dict[tuple[str, str], tuple[int, int]] = {}  # panel number, port
        self.numbers: dict[str, int] = {}

    def place(self, building: str, fibre_class: str, cores: int) -> tuple[str, int]:
        """Give the panel and first port for some cores; they stay on one panel."""
        ports = (cores + 1) // 2
        size = 48 if fibre_class == "OS2" else 24
        number, port = self.next.get((building, fibre_class), (0, size + 1))
        if port + ports - 1 > size:
            number = self.numbers[building] = self.numbers.get(building, 0) + 1
            port = 1
            old = fibre_class == "OM1"
            self.site.panel(
                f"{building}-P{number}",
                building,
                size,
                connector="SC" if old else "LC",
                polish="PC" if old else "UPC",
                fibre_class=fibre_class,
            )
        self.next[(building, fibre_class)] = (number, port + ports)
        return f"{building}-P{number}", port


def campus() -> Site:
    """Nine buildings: a ring of four with a chord, spurs, older multimode beside, a loop in a closure."""
    s = Site(
        "Campus",
        name="Ashquorl College",
        customer="Ashquorl College (invented)",
        address="College Park, Ashquorl (invented)",
        contact="network operations desk",
        access="permit to work for every duct; two people at every open chamber",
        hazards="chambers may hold gas: test the air; chemistry: ask the steward",
        notes="the ring is DH, EN, AR, AD; EN-AD/1 is its chord",
    )
    for location, building, room, notes in BUILDINGS:
        s.location(location, building, room, rack="R1", notes=notes)
        s.equipment(f"SW-{location}", location, label=f"{building.lower()} switch")
    s.location("Chamber 7", "outdoors", "duct chamber 7, by the boiler house")
    filler = Filler(s)
    at: Where = {}
    for cable, a, b, cores, length_m, made_a, made_b, when in BACKBONE:
        lay(s, filler, at, cable, (a, made_a), (b, made_b), cores, length_m, when, 12, "OS2")
    for cable, a, b, fibre_class, cores, length_m, when, per_tube in OLD:
        lay(s, filler, at, cable, (a, cores), (b, cores), cores, length_m, when, per_tube, fibre_class)
    loop(s, filler, at)
    for building in ("AD", "AR"):
        s.panel(f"{building}-P9", building, 48, notes="empty, hung with the ring for the cores still coiled")
    use_campus(s, at)
    return s


Made = tuple[str, int]  # a building and how many cores are made off there
Where = dict[tuple[str, str], tuple[str, int]]  # cable and building: panel and first port


def lay(
    s: Site,
    filler: Filler,
    at: Where,
    cable: str,
    a: Made,
    b: Made,
    cores: int,
    length_m: float,
    when: str,
    per_tube: int | None,
    fibre_class: str,
) -> None:
    """Lay one cable between two buildings and make off its first cores at either end."""
    places = [filler.place(building, fibre_class, made) for building, made in (a, b)]
    old = fibre_class in ("OM1", "OM3")
    s.cable(
        cable,
        places[0][0],
        places[1][0],
        cores,
        length_m,
        when,
        per_tube=per_tube,
        fibre_class=fibre_class,
        basis="estimated" if old else "measured",
        route="campus ducts",
    )
    for (building, made), (panel, port) in zip((a, b), places, strict=True):
        at[(cable, building)] = (panel, port)
        s.make_off(cable, panel, port, range(1, made + 1), noted=not old, by="TB" if old else "RK")


def loop(s: Site, filler: Filler, at: Where) -> None:
    """Feed the boiler house by way of a spare loop whose two ends are both in the chamber's closure."""
    s.closure("JC7", "Chamber 7", trays=4, notes="60 m loop coiled for the next building")
    panels = {b: filler.place(b, "OS2", 24) for b in ("AD", "BH")}
    s.cable("AD-BH/1", panels["AD"][0], "JC7", 24, 205, "2025-10-14", per_tube=12, route="heating trench")
    s.cable("AD-BH/2", "JC7", panels["BH"][0], 24, 91, "2025-10-14", per_tube=12, route="heating trench")
    s.cable(
        "LP1",
        "JC7",
        "JC7",
        24,
        120,
        "2025-10-15",
        per_tube=12,
        basis="marked",
        route="coil in chamber 7",
        notes="both ends in JC7: end A is the end with the lower metre mark",
    )
    s.make_off("AD-BH/1", *panels["AD"], range(1, 25))
    s.make_off("AD-BH/2", *panels["BH"], range(1, 25))
    twelve = range(1, 13)
    s.splice("JC7", 1, 1, ("AD-BH/1", twelve), ("LP1", twelve), "2025-10-16", ends=("", "A"))
    s.splice("JC7", 2, 1, ("LP1", twelve), ("AD-BH/2", twelve), "2025-10-16", ends=("B", ""))
    s.splice("JC7", 3, 1, ("AD-BH/1", range(13, 25)), ("AD-BH/2", range(13, 25)), "2025-10-17", by="EM")
    at[("AD-BH/1", "AD")] = panels["AD"]
    at[("AD-BH/2", "BH")] = panels["BH"]


def use_campus(s: Site, at: Where) -> None:
    """Put the campus's channels on, some by way of a second building."""
    uses: dict[str, int] = {}
    count = 0

    def channel(
        purpose: str, application: str, cable: str, a: str, b: str, offset: int, since: str, far: str = ""
    ) -> None:
        nonlocal count
        count += 1
        ends = []
        for building in (a, b):
            uses[building] = uses.get(building, 0) + 1
            ends.append(f"SW-{building}/{uses[building]}")
        here, there = at[(cable, a)], at[(far or cable, b)]
        s.channel(
            f"CH{count:02d}",
            purpose,
            application,
            *ends,
            (here[0], here[1] + offset),
            (there[0], there[1] + offset),
            since,
        )

    for cable, a, b, pairs in (
        ("DH-EN/1", "DH", "EN", 9),
        ("EN-AR/1", "EN", "AR", 8),
        ("AR-AD/1", "AR", "AD", 8),
        ("AD-DH/1", "AD", "DH", 9),
        ("EN-AD/1", "EN", "AD", 4),
        ("DH-LB/1", "DH", "LB", 6),
        ("EN-CH/1", "EN", "CH", 3),
        ("AR-SP/1", "AR", "SP", 2),
        ("AD-HN/1", "AD", "HN", 4),
    ):
        year = int(next(row[7] for row in BACKBONE if row[0] == cable)[:4])
        for n in range(pairs):
            application = "10GBASE-LR" if n < 2 else "1000BASE-LX10"
            what = "ring" if n < 2 else ("telephones", "doors", "cameras", "metering")[n % 4]
            channel(f"{a} to {b}, {what}", application, cable, a, b, n, f"{year}-09-{n + 3:02d}")
    channel(
        "boiler controls by way of the loop",
        "1000BASE-LX10",
        "AD-BH/1",
        "AD",
        "BH",
        0,
        "2025-10-20",
        far="AD-BH/2",
    )
    channel("boiler house cameras", "1000BASE-LX10", "AD-BH/1", "AD", "BH", 6, "2025-10-20", far="AD-BH/2")
    channel("library catalogue terminals", "100BASE-FX", "DH-LB/2", "DH", "LB", 0, "2003-09-15")
    channel("administration, old backbone", "1000BASE-SX", "DH-AD/2", "DH", "AD", 0, "2012-08-15")
    channel("engineering store, 10 gigabit", "10GBASE-SR", "DH-EN/2", "DH", "EN", 0, "2019-08-01")
    channel("chemistry instruments, 10 gigabit", "10GBASE-SR", "EN-CH/2", "EN", "CH", 0, "2019-08-02")

    # chemistry from the data hall: a cord in engineering joins the two cables
    through = (at[("DH-EN/1", "EN")], at[("EN-CH/1", "EN")])
    s.bridge((through[0][0], through[0][1] + 20), (through[1][0], through[1][1] + 8), "2025-01-14", length_m=3.0)
    for where in ("SW-DH/60", "SW-CH/60"):
        s.optic(where, "10GBASE-LR")
    dh, ch = at[("DH-EN/1", "DH")], at[("EN-CH/1", "CH")]
    s.plug("SW-DH/60", (dh[0], dh[1] + 20), "2025-01-14")
    s.plug("SW-CH/60", (ch[0], ch[1] + 8), "2025-01-14", swapped=True)
    s.only_channel(
        "CH60",
        "chemistry from the data hall, patched through engineering",
        "10GBASE-LR",
        "SW-DH/60",
        "SW-CH/60",
        "2025-01-15",
    )
    s.core("AR-AD/1", range(25, 49), reserved_for="recording studios")
    s.core("AD-DH/1", range(49, 61), reserved_for="landlord's fire alarm")
    s.core("AR-AD/1", [23, 24], condition="faulty", fault_m=41, notes="tube kinked at the bend in A1.10")
    s.core("DH-EN/1", [95], notes="connector re-polished once; watch it")
    # two cords were pulled at the switch end and left hanging
    last = at[("AD-HN/1", "HN")]
    s.cord([((last[0], str(last[1] + 5), p), ("", "", "")) for p in ("A", "B")], "2025-12-02")


def halls() -> Site:
    """A star of eight houses, 48 cores each, a quarter of them made off at both ends."""
    s = Site(
        "Halls",
        name="Ashquorl Halls of Residence",
        customer="Ashquorl Lodgings (invented)",
        address="Candle Street, Ashquorl (invented)",
        contact="house manager",
        access="never enter a resident's room alone; 24 hours' notice",
        hazards="none beyond the usual",
    )
    s.location("Lodge", "Lodge", "comms room", rack="R1")
    s.equipment("SW1", "Lodge", label="core switch")
    for n in range(1, 5):
        s.panel(f"P{n}", "Lodge", 24)
    for n in range(1, 9):
        s.location(f"House {n}", f"House {n}", "under the stairs")
        s.panel(f"H{n}", f"House {n}", 12, kind="wall box" if n >= 5 else "rack panel")
        s.equipment(f"SW{n + 1}", f"House {n}")
        panel, port = f"P{(n + 1) // 2}", 1 if n % 2 else 13
        s.cable(
            f"H{n}/1",
            panel,
            f"H{n}",
            48,
            60 + 37 * n,
            f"2025-08-{3 + n:02d}",
            per_tube=12,
            route="garden duct",
        )
        s.make_off(f"H{n}/1", panel, port, range(1, 25), by="EM")
        s.make_off(f"H{n}/1", f"H{n}", 1, range(1, 13), by="EM")
        for k, purpose in enumerate(("residents", "doors and cameras")):
            s.channel(
                f"CH{2 * n - 1 + k}",
                f"house {n}, {purpose}",
                ("10GBASE-LR", "1000BASE-LX")[k],
                f"SW1/{10 * (k + 1) + n}",
                f"SW{n + 1}/{25 + k}",
                (panel, port + k),
                (f"H{n}", 1 + k),
                f"2025-09-{n:02d}",
            )
    return s


def observatory() -> Site:
    """A 120 m link with optics made for 40 km: the receivers get too much light."""
    s = Site(
        "Observatory",
        name="Ashquorl Observatory",
        customer="Ashquorl College (invented)",
        address="Star Hill, Ashquorl (invented)",
        contact="duty observer",
        access="red torches only after dusk",
        hazards="dome moves without warning: isolate it first",
    )
    s.location("Control", "Control hut", rack="R1")
    s.location("Dome", "Dome", "pier room")
    s.panel("P1", "Control", 12)
    s.panel("P2", "Dome", 12)
    s.cable("C1", "P1", "P2", 48, 120, "2026-02-10", per_tube=12, route="cable trench")
    s.make_off("C1", "P1", 1, range(1, 25))
    s.make_off("C1", "P2", 1, range(1, 25))
    s.equipment("SW1", "Control")
    s.equipment("SW2", "Dome")
    s.channel("CH1", "camera data", "10GBASE-ER", "SW1/49", "SW2/49", ("P1", 1), ("P2", 1), "2026-02-12")
    s.channel("CH2", "dome control", "1000BASE-LX10", "SW1/25", "SW2/25", ("P1", 2), ("P2", 2), "2026-02-12")
    return s


def sites() -> list[Site]:
    """All campus customers."""
    return [campus(), halls(), observatory()]
