"""What was planted in the demo on purpose: each fact is worked out from the rows, not typed."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from typing import NamedTuple

from demo_maker.follow import SPARE, Plant, spare_strands
from demo_maker.light import ATTENUATION_DB_PER_KM, worst_case
from demo_maker.rows import Site, day
from demo_maker.testing import lengths, max_made_on

TODAY = day("2026-11-20")


class Fact(NamedTuple):
    """One planted fact: what it is, the site, the records that show it, and its value."""

    what: str
    site: str
    where: str
    value: str


def facts(sites: dict[str, Site]) -> list[Fact]:
    """Work out every planted fact."""
    plants = {name: Plant(site) for name, site in sites.items()}
    return [
        *counts(sites, plants),
        *cords(sites, plants),
        *broken(sites),
        *channels(sites, plants),
        *tightest(sites, plants),
        *testing(sites, plants),
        *tested_links(sites, plants),
        *routes(plants),
        *odd_cables(sites),
    ]


def counts(sites: dict[str, Site], plants: dict[str, Plant]) -> list[Fact]:
    """Cores in all, sites, and who has no or few spares."""
    states = {name: Counter(plant.states().values()) for name, plant in plants.items()}
    spare = {name: sum(c[s] for s in SPARE) for name, c in states.items()}
    all_states: Counter[str] = sum(states.values(), Counter())
    out = [
        Fact("cores in all", "all", f"{len(sites)} sites", str(sum(all_states.values()))),
        *(Fact(f"cores {state}", "all", "", str(n)) for state, n in sorted(all_states.items())),
        Fact("sites without a spare core", "all", "", "; ".join(n for n in sites if spare[n] == 0)),
    ]
    out += [Fact("one or two spare cores left", n, "", str(spare[n])) for n in sites if 1 <= spare[n] <= 2]
    for name, c in states.items():
        words = ", ".join(f"{c[s]} {s}" for s in sorted(c))
        out.append(Fact("cores of the site by state", name, f"{spare[name]} spare of {sum(c.values())}", words))
    return out


def cords(sites: dict[str, Site], plants: dict[str, Plant]) -> list[Fact]:
    """Temporary cords, loose ends, and cords that mix angled and straight ferrules."""
    out = []
    for name, site in sites.items():
        polish = {(r["enclosure"], r["port"], r["position"]): r["polish"] for r in site.tables["ports"]}
        for row in site.tables["patches"]:
            if row["strand"] != "1":
                continue
            a, b = ((row[f"{s}_at"], row[f"{s}_port"], row[f"{s}_position"]) for s in "ab")
            if row["temporary"] == "yes":
                days = (TODAY - row["fitted_on"]).days
                value = f"fitted {row['fitted_on']}, {days} days before {TODAY}"
                out.append(Fact("temporary cord still in", name, row["cord"], value))
            if not b[0]:
                out.append(Fact("cord with a loose end", name, row["cord"], f"from {a[0]} port {a[1]}"))
            if a in polish and b in polish:
                what = "cord from panel to panel"
                if (polish[a] == "APC") != (polish[b] == "APC"):
                    what = "cord mixes APC and UPC"
                out.append(Fact(what, name, row["cord"], f"{a[0]} port {a[1]} to {b[0]} port {b[1]}"))
    return out


def broken(sites: dict[str, Site]) -> list[Fact]:
    """Faulty and reserved cores."""
    out = []
    for name, site in sites.items():
        for row in site.tables["cores"]:
            if row["condition"] == "faulty":
                out.append(Fact("faulty core", name, f"{row['cable']} core {row['core']}", f"at {row['fault_m']} m"))
        held: dict[tuple[str, str], list[int]] = {}
        for row in site.tables["cores"]:
            if row.get("reserved_for"):
                held.setdefault((row["cable"], row["reserved_for"]), []).append(row["core"])
        for (cable, why), cores in held.items():
            out.append(Fact("reserved cores", name, f"{cable} {span(cores)}", why))
    return out


def span(cores: list[int]) -> str:
    """Write a run of core numbers."""
    return f"core {cores[0]}" if len(cores) == 1 else f"cores {cores[0]} to {cores[-1]}"


def channels(sites: dict[str, Site], plants: dict[str, Plant]) -> list[Fact]:
    """Polarity slips, channels that pass through a third building, and optics too strong for a short link."""
    out = []
    straight = ({("Tx", "Rx"), ("Rx", "Tx")}, {("TxRx", "TxRx")})
    for name, site in sites.items():
        powers = {(r["equipment"], r["interface"], r["position"]): r for r in site.tables["interfaces"]}
        for row in site.tables["channels"]:
            plant, channel = plants[name], row["channel"]
            joined = plant.polarity(channel)
            if joined not in straight:
                out.append(Fact("polarity slip", name, channel, ", ".join(" to ".join(j) for j in sorted(joined))))
            first = "TxRx" if ("TxRx", "TxRx") in joined else "Tx"
            path = plant.channel_path(channel, first)
            hops = [plant.join[a][1] for a, b in pairwise(path) if plant.join.get(a, "?")[0] == b]
            if hops.count("cord") > 2:
                out.append(Fact("onward hop by cord", name, channel, row["purpose"]))
            elif "splice" in hops:
                out.append(Fact("onward hop by splice", name, channel, f"through {hops.count('splice')} joint(s)"))
            if first == "TxRx":
                out.append(Fact("single-fibre channel", name, channel, row["purpose"]))
            low = powers.get((row["a_equipment"], row["a_interface"], first), {}).get("launch_max_dbm")
            most = powers.get((*path[-1][1:3], path[-1][3]), {}).get("receive_max_dbm")
            loss = worst_case(plant, channel)["loss_db"]
            if None not in (low, most) and low - loss > most:
                value = f"{row['application']}: {low} dBm less at most {loss} dB is above {most} dBm"
                out.append(Fact("light too strong for the receiver", name, channel, value))
    return out


def tightest(sites: dict[str, Site], plants: dict[str, Plant]) -> list[Fact]:
    """Channels whose worst-case headroom is under 0.3 dB, by the sums in demo_maker/light.py."""
    out = []
    for name, site in sites.items():
        for row in site.tables["channels"]:
            w = worst_case(plants[name], row["channel"])
            if w["headroom_db"] < 0.3:
                what = "headroom negative" if w["headroom_db"] < 0 else "headroom nearly nothing"
                far = f"; {w['length_m']} m is over {w['limit_m']} m" if w["length_m"] > w["limit_m"] else ""
                sums = f"{w['limit_db']} - {w['loss_db']} = {w['headroom_db']} dB"
                out.append(Fact(what, name, row["channel"], f"{row['application']}: {sums}{far}"))
    return out


def testing(sites: dict[str, Site], plants: dict[str, Plant]) -> list[Fact]:
    """Channels without any test, and with a light check only; tests that failed."""
    made = Counter((t["method"], t["verdict"]) for site in sites.values() for t in site.tables["tests"])
    out = [Fact("tests", "all", method, f"{n} {verdict}") for (method, verdict), n in sorted(made.items())]
    for name, site in sites.items():
        bare, light = [], []
        for row in site.tables["channels"]:
            on_path: set[tuple] = set()
            for position in ("Tx", "Rx", "TxRx"):
                on_path |= set(plants[name].channel_path(row["channel"], position))
            fronts = {n[1:] for n in on_path if n[0] == "front"}
            cores = {n[1:3] for n in on_path if n[0] == "core"}
            methods = {
                t["method"]
                for t in site.tables["tests"]
                if (t.get("cable"), t.get("core")) in cores
                or {tuple(t.get(f"{e}_{c}", "") for c in ("at", "port", "position")) for e in ("from", "to")} <= fronts
            }
            if not methods:
                bare.append(row["channel"])
            elif methods == {"light check"}:
                light.append(row["channel"])
        if bare:
            out.append(Fact("channels without any test", name, str(len(bare)), ", ".join(bare)))
        if light:
            out.append(Fact("channels with a light check only", name, str(len(light)), ", ".join(light)))
    return out


def tested_links(sites: dict[str, Site], plants: dict[str, Plant]) -> list[Fact]:
    """Loss tests over or near their limit by ISO/IEC 14763-3, and links tested before a joint was made again."""
    out = []
    for name, site in sites.items():
        over, newest, joined = Counter(), {}, {}
        for t in site.tables["tests"]:
            if t["method"] != "loss test":
                continue
            a, b = (tuple(t[f"{e}_{c}"] for c in ("at", "port", "position")) for e in ("from", "to"))
            made = {(r["enclosure"], r["port"], r["position"]): r for r in site.tables["terminations"]}
            cable, core = made[a]["cable"], made[a]["core"]
            metres, fibre_class, _, splices = lengths(plants[name], cable, core)
            pigtails = sum(made[e]["method"] == "spliced pigtail" for e in (a, b))
            ends = {"one-cord": 2, "two-cord": 1, "three-cord": 0}[t["reference_method"]]
            limit = ATTENUATION_DB_PER_KM[(fibre_class, t["wavelength_nm"])] * metres / 1000
            limit += ends * (0.75 if fibre_class == "OS2" else 0.5) + 0.3 * (splices + pigtails)
            if abs(t["loss_db"] - limit) < 0.1 - 1e-9:
                over["marginal"] += 1
            elif t["loss_db"] > limit:
                over["fail"] += 1
            newest[a, b] = max(newest.get((a, b), t["tested_on"]), t["tested_on"])
            joined[a, b] = max(max_made_on(site, plants[name], cable, core), made[a]["made_on"], made[b]["made_on"])
        if over:
            told = ", ".join(f"{n} {verdict}" for verdict, n in sorted(over.items()))
            out.append(
                Fact("loss tests over or near the limit", name, "ISO/IEC 14763-3:2014/Cor 1, uncertainty 0.1 dB", told)
            )
        for (a, b), when in newest.items():
            if joined[a, b] > when:
                what = f"tested {when}, a joint made {joined[a, b]}"
                out.append(Fact("tested before a joint was made again", name, f"{'/'.join(a)} to {'/'.join(b)}", what))
    return out


def routes(plants: dict[str, Plant]) -> list[Fact]:
    """Strands between two places, and the cables that run out first."""
    out = []
    for name, here, there in (
        ("Harbour", "Office", "Ice house"),
        ("Campus", "DH", "AR"),
        ("Campus", "AD", "AR"),
    ):
        for level in ("now", "patching", "splicing"):
            strands, cut = spare_strands(plants[name], here, there, level)
            cables = ", ".join(cut).replace("+", " spliced to ") or "none"
            out.append(Fact(f"strands between, {level}", name, f"{here} to {there}", f"{strands}; binding: {cables}"))
    return out


def odd_cables(sites: dict[str, Site]) -> list[Fact]:
    """Cables with something unusual: crossed cores, mixed tubes, tracers, loops, IEC 60304, premises."""
    out = []
    for name, site in sites.items():
        for cable, row in site.cables.items():
            if row.get("tube_sizes"):
                out.append(Fact("tubes of mixed size", name, cable, row["tube_sizes"]))
            if row["core_count"] > 12 and not row["cores_per_tube"] and not row.get("tube_sizes"):
                out.append(Fact("one tube with tracers", name, cable, f"{row['core_count']} cores"))
            if row["a_enclosure"] == row["b_enclosure"]:
                out.append(Fact("cable with both ends in one enclosure", name, cable, row["a_enclosure"]))
            order = {
                end: [t["core"] for t in site.tables["terminations"] if (t["cable"], t["end"]) == (cable, end)]
                for end in "AB"
            }
            crossed = [c for c in order["B"] if order["B"] != sorted(order["B"]) and order["B"].index(c) != c - 1]
            if crossed:
                out.append(Fact("colour order differs at the two ends", name, cable, f"cores {sorted(crossed)}"))
        codes = {r["colour_code"] for r in site.cables.values()}
        if "IEC 60304" in codes:
            out.append(
                Fact(
                    "IEC 60304 colours",
                    name,
                    ", ".join(c for c, r in site.cables.items() if r["colour_code"] == "IEC 60304"),
                    "",
                )
            )
        premises = sorted({r["premises"] for r in site.tables["locations"] if r.get("premises")})
        if premises:
            out.append(Fact("several premises at one site", name, str(len(premises)), "; ".join(premises)))
        mechanical = [
            f"{r['enclosure']}/{r['tray']}/{r['slot']}" for r in site.tables["splices"] if r["method"] == "mechanical"
        ]
        if mechanical:
            out.append(Fact("mechanical splices", name, str(len(mechanical)), ", ".join(mechanical)))
    return out
