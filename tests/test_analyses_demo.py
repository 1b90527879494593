"""The demo firm's planted facts, found again by the analyses.

The facts stand in the table of data/README.md, worked out from the rows by the generator's own tracing and sums.
"""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import pytest

import fibrebook
from fibrebook.analyses.advice.channels import LITTLE_DB

DATA = Path(__file__).resolve().parents[1] / "data"
TODAY = dt.date(2026, 11, 20)  # the story's today
STATES = ("faulty", "half-terminated", "in service", "patched", "ready", "reserved", "unterminated")


def planted():
    """The facts as (fact, site, where, value)."""
    text = (DATA / "README.md").read_text(encoding="utf-8").partition("<!-- planted facts")[2]
    lines = [line.strip()[1:-1] for line in text.partition("<!-- end")[0].splitlines() if line.startswith("|")]
    return [tuple(cell.strip() for cell in line.split("|")) for line in lines[2:]]


FACTS = planted()


def facts(name):
    """Parametrise a test with the (site, where, value) of one fact."""
    found = [f[1:] for f in FACTS if f[0] == name]
    assert found, name
    return pytest.mark.parametrize("site, where, value", found)


@pytest.fixture(scope="module")
def reg(tmp_path_factory):
    """The demo firm's register, brought in from its workbooks."""
    made = fibrebook.create(tmp_path_factory.mktemp("demo") / "register", name="demo")
    for book in ("farms", "schools", "harbour", "campus", "works", "visits"):
        fibrebook.bring_in(made, DATA / "demo" / f"{book}.xlsx", by="ts", why="test")
    return made


@pytest.fixture(scope="module")
def advice(reg):
    """Advice as {(site, check, record): what}."""
    return {(r.site, r.check, r.record): r.what for r in fibrebook.advice(reg, today=TODAY).itertuples()}


@pytest.fixture(scope="module")
def cores(reg):
    """What is spare, by core, with (site, cable, core) as index."""
    return fibrebook.spare(reg, by="core").set_index(["site", "cable", "core"])


@pytest.fixture(scope="module")
def cross(reg):
    """The cross reference of everything."""
    return fibrebook.cross_reference(reg)


@pytest.fixture(scope="module")
def light(reg):
    """Headroom of everything."""
    return fibrebook.headroom(reg)


# --- spare ------------------------------------------------------------------------------------------------------------
def test_cores_in_all(reg, cores):
    """As many cores in all, and in each state, as the rows hold."""
    told = fibrebook.spare(reg, by="site")
    total = next(f[3] for f in FACTS if f[0] == "cores in all")
    assert len(cores) == told["total"].sum() == int(total)
    for state in STATES:
        assert told[state.replace(" ", "_").replace("-", "_")].sum() == int(_fact(f"cores {state}")), state


def _fact(name):
    return next(f[3] for f in FACTS if f[0] == name)


@facts("cores of the site by state")
def test_cores_of_a_site(reg, site, where, value):
    """Each site's spare cores and its cores by state."""
    row = fibrebook.spare(reg, by="site").set_index("site").loc[site]
    spare, total = map(int, re.findall(r"\d+", where))
    assert (row["spare"], row["total"]) == (spare, total)
    counts = {state: int(n) for n, state in re.findall(r"(\d+) ([a-z -]+)", value)}
    told = {s: row[s.replace(" ", "_").replace("-", "_")] for s in STATES}
    assert {s: n for s, n in told.items() if n} == counts
    by_cable = fibrebook.spare(reg, by="cable", site=site)
    assert (by_cable["spare"].sum(), by_cable["total"].sum()) == (spare, total)


def test_sites_without_a_spare_core(reg, advice):
    """Three sites have nothing left; advice names the same three."""
    told = fibrebook.spare(reg, by="site")
    bare = set(told.loc[told["spare"] == 0, "site"])
    assert bare == set(_fact("sites without a spare core").split("; "))
    assert bare == {site for site, check, _ in advice if check == "no spare cores"}


@facts("one or two spare cores left")
def test_one_or_two_left(reg, site, where, value):
    """Sites with next to nothing left."""
    assert fibrebook.spare(reg, by="site", site=site)["spare"].tolist() == [int(value)]


@facts("reserved cores")
def test_reserved_cores(cores, site, where, value):
    """Reserved cores say what they are kept for."""
    cable, first, last = re.fullmatch(r"(\S+) cores? (\d+)(?: to (\d+))?", where).groups()
    for core in range(int(first), int(last or first) + 1):
        row = cores.loc[site, cable, core]
        assert row["state"] == "reserved"
        assert row["why_not"].startswith(f"reserved for {value} ")


@facts("faulty core")
def test_faulty_cores(cores, site, where, value):
    """Faulty cores say how far the fault is from end A."""
    cable, core = re.fullmatch(r"(\S+) core (\d+)", where).groups()
    metres = value.removeprefix("at ")
    assert cores.loc[site, cable, int(core)]["why_not"] == f"faulty, {metres} from end A"


@pytest.mark.parametrize("level", ["now", "patching", "splicing"])
@pytest.mark.parametrize("site, where", sorted({f[1:3] for f in FACTS if f[0] == "strands between, now"}))
def test_strands_between(reg, site, where, level):
    """Strands between two places at each level, and the cables that bind."""
    value = next(f[3] for f in FACTS if f[:3] == (f"strands between, {level}", site, where))
    strands, binding = re.fullmatch(r"(\d+); binding: (.*)", value).groups()
    told = fibrebook.spare_between(reg, site, *where.split(" to ")).set_index("level").loc[level]
    assert told["strands"] == int(strands)
    said = set(filter(None, told["binding"].split(", ")))
    if binding == "none":
        return
    # the fact names a strand by all cables it is spliced through; we name the one of them that runs out first
    wanted = [set(chain.split(" spliced to ")) for chain in binding.split(", ")]
    assert said <= set().union(*wanted)
    assert all(said & chain for chain in wanted)


# --- what is at the far end -------------------------------------------------------------------------------------------
def _cores_of(cross, site, channel):
    return cross[(cross["site"] == site) & (cross["channel"] == channel)]


def _sending(reg, site, channel):
    """Where a trace of a channel may start: a position of its a interface."""
    row = reg.table("channels", site).set_index("channel").loc[channel]
    faces = reg.table("interfaces", site)
    own = (faces["equipment"] == row["a_equipment"]) & (faces["interface"] == row["a_interface"])
    return ("interface", row["a_equipment"], row["a_interface"], faces.loc[own, "position"].iloc[-1])


@facts("onward hop by splice")
def test_onward_hop_by_splice(reg, cross, site, where, value):
    """A channel that runs on through so many joints, and whose cores all name its two interfaces."""
    path = fibrebook.trace(reg, site, _sending(reg, site, where))
    assert (path["kind"] == "splice").sum() == int(re.findall(r"\d+", value)[0])
    assert path["kind"].iloc[[0, -1]].tolist() == ["interface", "interface"]
    assert set(_cores_of(cross, site, where)["a_reaches_kind"]) == {"interface"}


@facts("onward hop by cord")
def test_onward_hop_by_cord(reg, site, where, value):
    """A channel that is patched on from panel to panel: more cords than the two at its ends."""
    path = fibrebook.trace(reg, site, _sending(reg, site, where))
    assert (path["kind"] == "cord").sum() >= 3
    assert path["kind"].iloc[[0, -1]].tolist() == ["interface", "interface"]


@facts("single-fibre channel")
def test_single_fibre_channel(reg, cross, light, site, where, value):
    """A channel over one fibre both ways: every cable it takes gives one core; light arrives in both directions."""
    found = _cores_of(cross, site, where)
    assert len(found) == found["cable"].nunique() >= 1
    assert set(found["a_reaches_position"]) == {"TxRx"}
    ways = light[(light["site"] == site) & (light["channel"] == where)]
    assert set(ways["direction"]) == {"a to b", "b to a"}
    assert set(ways["polarity"]) == {"transmit reaches receive"}


@facts("cord with a loose end")
def test_loose_cord(reg, cross, site, where, value):
    """The cord that hangs loose is what its core reaches, and its trace ends there."""
    panel, port = re.fullmatch(r"from (\S+) port (\S+)", value).groups()
    found = cross[(cross["site"] == site) & ((cross["a_reaches_at"] == where) | (cross["b_reaches_at"] == where))]
    assert len(found) >= 1
    assert (found["state"] == "patched").all()
    kinds = set(found["a_reaches_kind"]) | set(found["b_reaches_kind"])
    assert "loose end" in kinds
    row = found.iloc[0]
    path = fibrebook.trace(reg, site, ("core", row["cable"], row["core"]))
    assert "loose end" in path["kind"].iloc[[0, -1]].tolist()
    assert ((path["kind"] == "port") & (path["at"] == panel) & path["name"].str.startswith(f"{port}")).any()


@facts("cord from panel to panel")
def test_cord_from_panel_to_panel(reg, site, where, value):
    """A cord between two ports stands between them on the path."""
    panel, port, other, its = re.fullmatch(r"(\S+) port (\S+) to (\S+) port (\S+)", value).groups()
    position = reg.table("patches", site).set_index("cord").loc[[where], "a_position"].iloc[0]
    path = fibrebook.trace(reg, site, ("port", panel, port, position))
    i = path.index[(path["kind"] == "cord") & (path["at"] == where)][0]
    around = {(path["at"][j], path["name"][j].split("/")[0]) for j in (i - 1, i + 1)}
    assert around == {(panel, port), (other, its)}


@facts("cable with both ends in one enclosure")
def test_both_ends_in_one_enclosure(cross, site, where, value):
    """Both ends of the cable are in one closure; joined there at both, its cores lead on both ways and are no loop."""
    found = cross[(cross["site"] == site) & (cross["cable"] == where)]
    assert set(found["a_enclosure"]) == set(found["b_enclosure"]) == {value}
    assert not (found["a_reaches_kind"] == "loop").any()
    used = found[found["state"] == "in service"]
    assert len(used) and set(used["a_reaches_kind"]) == {"interface"}
    assert (used["a_reaches"] != used["b_reaches"]).all()


def test_a_star_reaches_its_lodge(cross):
    """A spot check by hand: core 1 of the first cable of the boatyard runs from switch to switch, Tx to Rx."""
    row = cross[(cross["site"] == "Boatyard") & (cross["cable"] == "C1") & (cross["core"] == 1)].iloc[0]
    assert (row["a_port"], row["a_position"], row["b_port"], row["b_position"]) == ("1", "A", "1", "A")
    assert {row["a_reaches_position"], row["b_reaches_position"]} == {"Tx", "Rx"}
    assert (row["state"], row["a_reaches_kind"], row["b_reaches_kind"]) == ("in service", "interface", "interface")


# --- colours ----------------------------------------------------------------------------------------------------------
@facts("IEC 60304 colours")
def test_iec_colours(cross, site, where, value):
    """Cables with the order of IEC 60304 begin with red, green, blue (as do DIN VDE 0888 and DIN EN 60794-1-1)."""
    for cable in where.split(", "):
        found = cross[(cross["site"] == site) & (cross["cable"] == cable)]
        assert found["core_colour"].tolist()[:3] == ["red", "green", "blue"]


@facts("one tube with tracers")
def test_tracers(cross, site, where, value):
    """24 cores in one tube: 13 to 24 repeat the first twelve colours and bear a tracer."""
    found = cross[(cross["site"] == site) & (cross["cable"] == where)]
    colours, tracers = found["core_colour"].tolist(), found["core_tracer"].fillna("").tolist()
    assert len(colours) == 24
    assert colours[:12] == colours[12:]
    assert len(set(colours)) == 12
    assert tracers[:12] == [""] * 12
    assert all(tracers[12:])


@facts("tubes of mixed size")
def test_mixed_tubes(cross, site, where, value):
    """Tubes of 12, 12 and 6: each begins again with the first colour."""
    found = cross[(cross["site"] == site) & (cross["cable"] == where)]
    sizes = [len(g) for _, g in found.groupby("tube_colour", sort=False)]
    assert sizes == [int(n) for n in value.split(", ")]
    assert found.groupby("tube_colour", sort=False)["core_colour"].first().nunique() == 1


# --- advice -----------------------------------------------------------------------------------------------------------
def _of(advice, check):
    return {(site, record) for site, name, record in advice if name == check}


def _is_all(advice, check, fact, records=None):
    """Every planted fact is advised, and nothing else is."""
    wanted = {(site, where.split(" core")[0]) for name, site, where, _ in FACTS if name == fact}
    assert {(s, r.split("/")[0] if records == "cord" else r) for s, r in _of(advice, check)} == wanted


def test_temporary_cord(advice):
    """The cord that was meant for a while is named with its age, and no other."""
    _is_all(advice, "temporary patch", "temporary cord still in", "cord")
    where, value = next(f[2:] for f in FACTS if f[0] == "temporary cord still in")
    days = re.search(r"(\d+) days", value)[1]
    what = next(w for (s, c, r), w in advice.items() if c == "temporary patch" and r.startswith(where))
    assert f"{days} days" in what


def test_polish_mismatch(advice):
    """The cord between an angled and a flat face is named, and no other."""
    _is_all(advice, "polish mismatch", "cord mixes APC and UPC", "cord")


def test_polarity(advice):
    """The channel that joins Tx to Tx is named, and no other."""
    _is_all(advice, "polarity wrong", "polarity slip")


@facts("colour order differs at the two ends")
def test_colour_order(advice, site, where, value):
    """The cable whose cores changed places is named with those cores."""
    what = advice[site, "colour order differs", where]
    assert f"cores {', '.join(re.findall(r'[0-9]+', value))} " in what
    _is_all(advice, "colour order differs", "colour order differs at the two ends")  # no splice crosses any


def test_light_too_strong(advice, light):
    """The optics that launch more than the other receiver bears are named; by at least the planted excess."""
    _is_all(advice, "light too strong", "light too strong for the receiver")
    site, where, value = next(f[1:] for f in FACTS if f[0] == "light too strong for the receiver")
    launch, loss, most = map(float, re.findall(r"(-?\d+\.\d+)", value))
    told = light[(light["site"] == site) & (light["channel"] == where)]["too_strong_db"]
    assert (told >= launch - loss - most - 1e-9).all()


def test_half_terminated(advice, cores):
    """As many half-terminated cores are advised on as there are."""
    counts = [int(w.split()[0]) for (_, check, _), w in advice.items() if check == "half-terminated"]
    assert sum(counts) == int(_fact("cores half-terminated")) == (cores["state"] == "half-terminated").sum()


@pytest.mark.parametrize(
    "fact, words",
    [("channels without any test", "never tested"), ("channels with a light check only", "only a light check")],
)
def test_untested(advice, fact, words):
    """Channels that nobody measured are named, those that only saw a light told apart; none but those."""
    wanted = {(site, c) for name, site, _, value in FACTS if name == fact for c in value.split(", ")}
    assert {(s, r) for (s, check, r), what in advice.items() if check == "untested" and words in what} == wanted


@facts("tests")
def test_tests_by_verdict(reg, advice, site, where, value):
    """So many tests of each method; every failed one is advised on."""
    count, verdict = value.split()
    tests = reg.table("tests")
    assert ((tests["method"] == where) & (tests["verdict"] == verdict)).sum() == int(count)
    if verdict == "fail":
        assert len(_of(advice, "test failed")) == int(count)


# --- headroom ---------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "site, where, value, sign",
    [(*f[1:], s) for f in FACTS for name, s in (("nearly nothing", 1), ("negative", -1)) if f[0] == f"headroom {name}"],
)
def test_headroom_of_the_tight_channels(light, advice, site, where, value, sign):
    """By the records the tight channels lose what the sum of their parts is, and have as little left; cords add hundredths.

    What a loss test found takes the place of the records; advice judges what is left by it.
    """
    limit, loss, left = map(float, re.search(r"([\d.]+) - ([\d.]+) = (-?[\d.]+) dB", value).groups())
    told = light[(light["site"] == site) & (light["channel"] == where)]
    assert (told["insertion_loss_max_db"] - limit).abs().max() < 0.005
    assert told["loss_by_records_db"].between(loss - 0.005, loss + 0.06).all()
    by_records = told["limit_db"] - told["loss_by_records_db"]
    assert (by_records <= left + 0.005).all() and (by_records * sign > 0).all()
    assert (told["tests"] != "").all() and (told["loss_db"] == told["loss_by_tests_db"]).all()
    little = told["headroom_db"].min() < LITTLE_DB
    assert ((site, "little headroom", where) in advice) is bool(little and sign > 0)
    assert ((site, "loss over the limit", where) in advice) is (sign < 0)


def test_no_other_channel_is_over_its_limit(light):
    """Only the planted channel is over its limit, by the records and by its length."""
    told = light[(light["headroom_db"] < 0) | (light["over_m"] > 0)]
    assert set(zip(told["site"], told["channel"], strict=True)) == {
        f[1:3] for f in FACTS if f[0] == "headroom negative"
    }
    over = light[light["limit_db"] - light["loss_by_records_db"] < 0]
    assert set(zip(over["site"], over["channel"], strict=True)) == {
        f[1:3] for f in FACTS if f[0] == "headroom negative"
    }


def test_every_channel_is_weighed(reg, light):
    """Every channel of the demo has a loss in both directions."""
    channels = {(r.site, r.channel) for r in reg.table("channels").itertuples()}
    assert set(zip(light["site"], light["channel"], strict=True)) == channels
    assert set(light["direction"]) == {"a to b", "b to a"}
    assert light["loss_db"].notna().all()


@facts("mechanical splices")
def test_mechanical_splices(reg, site, where, value):
    """The mechanical splices are there, each on a path that its cores share."""
    splices = reg.table("splices", site)
    found = splices[splices["method"] == "mechanical"]
    names = (found["enclosure"] + "/" + found["tray"] + "/" + found["slot"]).tolist()
    assert sorted(names) == sorted(value.split(", "))
    assert len(names) == int(where)
    one = found.iloc[0]
    path = fibrebook.trace(reg, site, ("core", one["a_cable"], one["a_core"]))
    name = f"{one['tray']}/{one['slot']}"
    loss_db = path.loc[
        (path["kind"] == "splice") & (path["at"] == one["enclosure"]) & (path["name"] == name), "loss_db"
    ]
    assert len(loss_db) == 1
    assert loss_db.notna().all()


@facts("several premises at one site")
def test_several_premises(reg, site, where, value):
    """Neighbours share one site; spare between them is asked as anywhere."""
    places = reg.table("locations", site)
    assert set(places["premises"].dropna()) == set(value.split("; "))
    assert places["premises"].nunique() == int(where)


def test_every_planted_fact_is_looked_for():
    """No fact of the table is left out here."""
    files = (Path(__file__), Path(__file__).with_name("test_light_demo.py"))
    source = "".join(f.read_text(encoding="utf-8") for f in files)
    names = {re.sub(rf" (nearly nothing|negative|{'|'.join(STATES)})$", "", f[0]) for f in FACTS}
    names = {re.sub(r"^strands between, .*", "strands between", n) for n in names}
    assert [n for n in sorted(names) if n not in source] == []
