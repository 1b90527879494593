"""Connectivity, states, traces and spare strands agree with an independent model of the same rows."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from tempfile import TemporaryDirectory

import networkx as nx
import pytest
from hypothesis import HealthCheck, assume, example, given, settings
from hypothesis import strategies as st
from plant_by_networkx import Model
from plants import plants, put_all, tables_of

import fibrebook
from fibrebook.analyses.paths.cross_reference import cross_reference_table
from fibrebook.analyses.paths.trace import trace_table
from fibrebook.analyses.spare.spare import fibre_groups, spare_cores, spare_counts
from fibrebook.errors import NotFoundError
from fibrebook.plant import Network
from fibrebook.plant.max_flow import max_flow
from fibrebook.plant.strands import free_strands, places_of, spare_strands
from fibrebook.plant.strands_that_fit import strands_that_fit
from fibrebook.snapshot.snapshot import PLANT_TABLES, PlantSnapshot

settings.register_profile("plant", deadline=None, suppress_health_check=[HealthCheck.too_slow], database=None)
PLANT = settings(settings.get_profile("plant"), max_examples=30)
DEMO = Path(__file__).parents[1] / "data" / "demo"


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The demo firm's register."""
    reg = fibrebook.create(tmp_path_factory.mktemp("demo") / "register", name="demo")
    for path in sorted(DEMO.glob("*.xlsx"), key=lambda p: p.stem == "visits"):
        fibrebook.bring_in(reg, path, by="ts", why="test")
    return reg


def rows_of(reg):
    """The rows of a register as lists of dicts."""
    return {name: t.to_pylist() for name, t in reg.tables().items()}


# --- far ends, states, cross reference --------------------------------------------------------------------------------
def expected_reach(model, core, end):
    """What the cross reference must say of one end of a core: text, kind, at, port, position."""
    node = model.far(core, end)
    if node is None:
        return ("loop", "loop", "", "", "")
    kind = {"core": "core end", "loose": "loose end"}.get(node[0], node[0])
    parts = [str(n) for n in node[2:]] + [""] * (5 - len(node))
    text = f"{parts[0]}/{parts[1]}" + (f"/{parts[2]}" if parts[2] else "")
    return (text, kind, *parts)


def expected_row(model, core):
    """The whole row of the cross reference of one core, as far as it is about connections."""
    cable = model.cables[core[1:3]]
    row = {"state": model.state(core), "channel": model.channel(core)}
    for end, side in (("A", "a"), ("B", "b")):
        made_off = [n for n in model.graph[(*core, end)] if n[0] == "port"]  # where this very core is made off
        row[f"{side}_enclosure"] = cable[f"{side}_enclosure"] or ""
        row[f"{side}_port"], row[f"{side}_position"] = made_off[0][3:] if made_off else ("", "")
        names = ("reaches", "reaches_kind", "reaches_at", "reaches_port", "reaches_position")
        row |= {f"{side}_{n}": v for n, v in zip(names, expected_reach(model, core, end), strict=True)}
    return row


def agrees(model, table):
    """Assert that a cross reference tells of every core what the model does."""
    told = {("core", r["site"], r["cable"], r["core"]): r for r in table.to_pylist()}
    assert list(told) == model.cores
    for core in model.cores:
        want = expected_row(model, core)
        assert {k: told[core][k] or "" for k in want} == want, core


@PLANT
@given(plants(), st.booleans())
def test_cross_reference_of_made_up_plants(rows, coded):
    """Far ends both ways, ports, states and channels of every core are those of the graph, text coded or plain."""
    agrees(Model(rows), cross_reference_table(PlantSnapshot(tables_of(rows, coded=coded))))


def test_cross_reference_of_the_demo(demo):
    """The same for every core of the demo firm."""
    table = cross_reference_table(PlantSnapshot(demo.tables()))
    assert table.num_rows > 2000
    agrees(Model(rows_of(demo)), table)


@PLANT
@given(plants())
def test_paths_are_the_connected_components(rows):
    """Two cores bear the same path label exactly where the graph joins them; loops are its cycles."""
    model, net = Model(rows), Network(tables_of(rows))
    ours, theirs = {}, {}
    for number, core in enumerate(model.cores):
        ours.setdefault(int(net.core_path[number]), set()).add(core)
        theirs.setdefault(model.part_of[(*core, "A")], set()).add(core)
        part = model.graph.subgraph(model.part_of[(*core, "A")])
        assert bool(net.paths.loops[2 * number]) == all(d == 2 for _, d in part.degree()), core
    assert sorted(map(sorted, ours.values())) == sorted(map(sorted, theirs.values()))


@PLANT
@given(plants())
def test_spare_is_the_sum_of_its_states(rows):
    """Spare cores by core, cable and site follow from the states; a core that is not spare says why."""
    model, net = Model(rows), Network(tables_of(rows))
    for row in spare_cores(net).to_pylist():
        state = model.state(("core", row["site"], row["cable"], row["core"]))
        spare = state in ("ready", "half-terminated", "unterminated")
        assert (row["state"], row["spare"], row["why_not"] == "") == (state, spare, spare)
    for by, key in (("site", ("site",)), ("cable", ("site", "cable"))):
        for row in spare_counts(net, by).to_pylist():
            mine = [model.state(c) for c in model.cores if c[1 : 1 + len(key)] == tuple(row[k] for k in key)]
            columns = {s: s.replace(" ", "_").replace("-", "_") for s in set(mine)}
            assert all(row[columns[s]] == mine.count(s) for s in columns)
            assert (row["total"], row["spare"]) == (
                len(mine), sum(s in ("ready", "half-terminated", "unterminated") for s in mine),
            )  # fmt: skip


# --- trace ------------------------------------------------------------------------------------------------------------
def starts(model):
    """Every start there is: (site, start, the node it stands at)."""
    for core in model.cores:
        yield core[1], ("core", core[2], core[3]), core
    for node in model.graph:
        if node[0] in ("port", "interface"):
            yield node[1], (node[0], *node[2:]), node


def first_end(model, node):
    """The far end a trace begins at: out of a core's end A, out of a port's front, at an interface itself."""
    if node[0] == "core":
        return model.far(node, "A")
    if node[0] == "interface":
        return node
    front = [(v, d) for _, v, d in model.graph.edges(node, data=True) if d["what"] == "patch"]
    seen, todo = {node}, [v for v, _ in front]
    while todo:
        here = todo.pop()
        seen.add(here)
        todo += [v for v in model.graph[here] if v not in seen]
    last = [n for n in seen if model.graph.degree(n) == 1 and n != node]
    return last[0] if last else node


def is_told(model, table, node):
    """Assert that a trace tells the path of a node in order, and marks where it started."""
    rows = table.to_pylist()
    told = [(r["kind"], r["at"], r["name"]) for r in rows]
    some = (*node, "A") if node[0] == "core" else node
    part = model.graph.subgraph(model.part_of[some])
    ends = [n for n, d in part.degree() if d < 2]
    if ends:
        first = first_end(model, node)
        assert told == model.told_from(first, next((n for n in ends if n != first), first))
    else:
        elements = [e for _, _, d in part.edges(data=True) for e in model.joint(d)]
        elements += [("port", n[2], "/".join(x for x in n[3:] if x)) for n in part if n[0] == "port"]
        assert sorted(told) == sorted(elements)  # once round
        assert told[-1 if node[0] == "core" else 0] == start_element(node)
    assert [t for t, r in zip(told, rows, strict=True) if r["start"]] == [start_element(node)]
    for r in rows:
        if r["kind"] == "core":
            assert r["length_m"] == model.cables[some[1], r["at"]].get("length_m")
    assert rows[-1]["reach_m"] == pytest.approx(sum(r["length_m"] or 0 for r in rows))


def start_element(node):
    """A start as the trace tells it."""
    return (node[0], node[2], "/".join(str(n) for n in node[3:] if n != ""))


@PLANT
@given(plants(), st.data())
def test_trace_of_made_up_plants(rows, data):
    """From any start, the elements stand in the order of the graph's path; a loop is told once round."""
    model = Model(rows)
    every = list(starts(model))
    assume(every)
    nets = {r["site"]: PlantSnapshot(tables_of(rows, r["site"])) for r in rows["sites"]}
    few = data.draw(st.lists(st.sampled_from(every), min_size=1, max_size=6))
    for site, start, node in few:
        is_told(model, trace_table(nets[site], site, start), node)


@PLANT
@given(plants(sites=1))
def test_neighbours_in_a_loop_are_joined(rows):
    """Round a loop, each element is joined to the next one in the graph, and the last to the first."""
    model, seen = Model(rows), PlantSnapshot(tables_of(rows))
    looped = [c for c in model.cores if model.far(c, "A") is None]
    assume(looped)
    for core in looped[:1]:
        told = trace_table(seen, core[1], ("core", *core[2:])).to_pylist()
        cores = [("core", core[1], r["at"], int(r["name"])) for r in told if r["kind"] == "core"]
        for one, other in zip(cores, cores[1:] + cores[:1], strict=True):
            thin = model.graph.copy()
            thin.remove_edges_from([
                (u, v, k) for u, v, k, d in model.graph.edges(keys=True, data=True)
                if d["what"] == "core" and d["row"] not in (one, other)
            ])  # fmt: skip
            assert (*other, "A") in model.beyond(one, "A", thin) | model.beyond(one, "B", thin)


def test_trace_of_the_demo(demo):
    """The same from cores, ports and interfaces of each demo site."""
    model = Model(rows_of(demo))
    every = list(starts(model))
    nets = {s: PlantSnapshot(demo.tables(s), site=s) for s in demo.sites()}
    for site, start, node in every[:: len(every) // 120]:
        is_told(model, trace_table(nets[site], site, start), node)


# --- spare between two places -----------------------------------------------------------------------------------------
def flow_agrees(model, net, site, here, there):
    """Assert that strands are networkx's maximum flow, and that what binds is a cut."""
    rows = [r for r in model.rows["enclosures"] if r["site"] == site]

    def of(label):
        return {r["enclosure"] for r in rows if r["enclosure"] == label} or {
            r["enclosure"] for r in rows if r.get("location") == label
        }

    told = spare_strands(net, here, there, fibre_groups(net.ends.table("cables")["fibre_class"]))
    assert [level for level, *_ in told] == ["now", "patching", "splicing"]
    for level, strands, binding in told:
        assert strands == model.flow(site, of(here), of(there), level), level
        if strands:
            assert binding
            assert model.flow(site, of(here), of(there), level, frozenset(binding)) == 0, (level, binding)
    assert told[0][1] <= told[1][1] <= told[2][1]
    classes = [fibre_groups(net.ends.table(kind)["fibre_class"]) for kind in ("cables", "ports")]
    fit = strands_that_fit(net, places_of(net, here, there), free_strands(net), *classes)
    least, most = model.fits(site, of(here), of(there))
    assert least <= fit.strands <= min(most, told[2][1])
    assert fit.stops or not told[2][1]


@given(
    st.dictionaries(
        st.tuples(st.integers(0, 6), st.integers(0, 6)).filter(lambda p: p[0] < p[1]), st.integers(1, 5), max_size=18
    )
)
# the first way found goes from 2 to 3; the most can only be had by taking that back and going from 3 to 2
@example({(0, 2): 1, (2, 3): 1, (1, 3): 1, (0, 4): 2, (4, 5): 2, (3, 5): 2, (2, 6): 2, (6, 7): 2, (1, 7): 2})
def test_maximum_flow_of_any_graph(capacities):
    """Our flow is networkx's on graphs of any shape, and the cut it names carries exactly that much."""
    net = nx.Graph()
    net.add_nodes_from((0, 1))
    net.add_edges_from((*pair, {"capacity": c}) for pair, c in capacities.items())
    flow, side = max_flow(Counter(capacities), 0, 1)
    assert flow == nx.maximum_flow_value(net, 0, 1)
    assert flow == sum(c for (a, b), c in capacities.items() if (a in side) != (b in side))


@PLANT
@given(st.one_of(plants(sites=2), plants(sites=1, meshed=True), plants(sites=1, meshed=True)), st.data())
def test_spare_between_places_of_made_up_plants(rows, data):
    """At every level the strands are a maximum flow; without the binding cables none is left."""
    site = data.draw(st.sampled_from([r["site"] for r in rows["sites"]]))
    labels = [r["enclosure"] for r in rows["enclosures"] if r["site"] == site]
    labels += sorted({r["location"] for r in rows["enclosures"] if r["site"] == site and r["location"]})
    assume(len(labels) > 1)
    here, there = data.draw(st.permutations(labels))[:2]
    try:
        flow_agrees(Model(rows), Network(tables_of(rows, site)), site, here, there)
    except NotFoundError:
        assume(False)  # a room and an enclosure in it are no two places


@pytest.mark.parametrize(
    "site, here, there",
    [("Harbour", "Office", "Ice house"), ("Campus", "DH", "AR"), ("Campus", "AD", "AR"), ("Quarry", None, None)],
)
def test_spare_between_places_of_the_demo(demo, site, here, there):
    """The same on the demo firm's rings."""
    model = Model(rows_of(demo))
    rooms = sorted({r["location"] for r in model.rows["enclosures"] if r["site"] == site and r["location"]})
    here, there = here or rooms[0], there or rooms[-1]
    flow_agrees(model, Network(demo.tables(site)), site, here, there)


# --- through a real register ------------------------------------------------------------------------------------------
@settings(PLANT, max_examples=8)
@given(plants())
def test_the_public_face_tells_the_same(rows):
    """Rows written to a register and asked for through the public functions give the model's answers, site by site."""
    model = Model(rows)
    with TemporaryDirectory() as folder:
        reg = fibrebook.create(Path(folder) / "register")
        put_all(reg, rows)
        told = fibrebook.cross_reference(reg)
        assert len(told) == len(model.cores)
        for row in told.to_dict("records"):
            core = ("core", row["site"], row["cable"], row["core"])
            want = expected_row(model, core)
            assert {k: row[k] for k in want} == want
        for site in reg.sites():
            own = fibrebook.cross_reference(reg, site)
            assert own.equals(told[told["site"] == site].reset_index(drop=True))
            assert len(fibrebook.spare(reg, by="core", site=site)) == len(own)
        for site, start, node in list(starts(model))[::9]:
            frame = fibrebook.trace(reg, site, start)
            assert list(frame.loc[frame["start"], ["kind", "at", "name"]].iloc[0]) == list(start_element(node))


def test_every_kind_of_record_is_made():
    """The made-up plants hold every kind of record that bears on connectivity (or the tests above prove nothing)."""
    seen, states, kinds = set(), set(), set()

    @settings(PLANT, max_examples=30, derandomize=True)
    @given(plants())
    def look(rows):
        seen.update(k for k in rows if rows[k])
        for r in cross_reference_table(PlantSnapshot(tables_of(rows))).to_pylist():
            states.add(r["state"])
            kinds.add(r["a_reaches_kind"])

    look()
    assert set(PLANT_TABLES) <= seen
    assert len(states) == 7
    assert kinds == {"interface", "port", "core end", "loose end", "loop"}
