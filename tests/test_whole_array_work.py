"""Advice and growth as work on whole arrays: the answers of the plain loops, at a cost that grows with the plant alone."""

from __future__ import annotations

import datetime as dt
from functools import cache

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from plants import plants, tables_of
from test_headroom_benchmark import many_channels

import fibrebook
from fibrebook.analyses.advice import channels, loose_ends
from fibrebook.analyses.advice.situation import Situation
from fibrebook.analyses.spare import growth
from fibrebook.analyses.spare.growth import _pasts, by_dates, used_since
from fibrebook.losses.elements import text
from fibrebook.plant import core_states
from fibrebook.plant.states import FAULTY, HALF_TERMINATED, IN_SERVICE, PATCHED, path_channel
from fibrebook.snapshot.snapshot import PlantSnapshot, network
from fibrebook.words.matching import grouped

TODAY = dt.date(2026, 6, 1)
METHODS = ("loss test", "light check")
CHECKS = (loose_ends.half_terminated, loose_ends.faulty_core_in_use, channels.untested)


def situation(tables):
    """What the checks are given, of some tables."""
    return Situation(PlantSnapshot(tables, TODAY))


@cache
def plant(sites):
    """Sites of fifty whole channels with faulty cores, cores made off at one end and tests, and their plant."""
    tables = many_channels(50 * sites)
    made = tables["terminations"]
    cores = made.select(["site", "cable", "core"]).take(np.arange(0, len(made), 9)).to_pylist()
    tables["cores"] = table_of("cores", [c | {"condition": "faulty"} for c in cores])
    tables["tests"] = table_of(
        "tests",
        [
            {"site": t["site"], "test": str(i), "cable": t["cable"], "core": t["core"], "method": METHODS[i % 2]}
            for i, t in enumerate(made.take(np.arange(0, len(made), 3)).to_pylist())
        ],
    )
    one_end = (text(made["port"]) < "2") & (text(made["enclosure"]) == "P1")  # ports 1, 10 to 19, 100
    tables["terminations"] = made.filter(pa.array(~one_end))
    cord_at = [text(tables["patches"][c]) < "2" for c in ("a_port", "b_port")]
    tables["patches"] = tables["patches"].filter(pa.array(~(cord_at[0] | cord_at[1])))
    return situation(tables)


def table_of(kind, rows):
    """Rows as a full table, text as dictionaries."""
    return tables_of({kind: rows}, coded=True)[kind]


def half_terminated(s):
    """Plain loop: the cores of each cable, by a mask of all cores for each."""
    half = np.flatnonzero(s.states == HALF_TERMINATED)
    cable = s.net.ends.core_cable[half]
    for row, i in zip(s.rows("cables", np.unique(cable)), np.unique(cable), strict=True):
        numbers = s.net.ends.core_number[half[cable == i]].tolist()
        yield row["site"], row["cable"], f"{len(numbers)} made off at one end only: {loose_ends._runs(numbers)}"


def faulty_core_in_use(s):
    """Plain loop: the channels of all paths, made anew for each core."""
    names = s.tables["channels"]["channel"].to_pylist()
    for core in np.flatnonzero((s.states == FAULTY) & (path_channel(s.net)[s.net.core_path] >= 0)):
        row = s.tables["cables"].slice(int(s.net.ends.core_cable[core]), 1).to_pylist()[0]
        channel = names[int(path_channel(s.net)[s.net.core_path[core]])]
        record = f"{row['cable']}/{s.net.ends.core_number[core]}"
        yield row["site"], record, f"is said to be faulty but serves channel {channel}"


def untested(s):
    """Plain loop: every path label looked through for each channel."""
    channel = path_channel(s.net)
    loss, light = channels._tested_labels(s)
    for i, row in enumerate(s.tables["channels"].to_pylist()):
        own = np.flatnonzero(channel == i)
        if len(own) and not loss[own].all():
            what = "only a light check was made, no loss test" if light[own].any() else "was never tested"
            yield row["site"], row["channel"], what


def same_as_plain(s):
    """Hold each check against its plain loop."""
    for plain in (half_terminated, faulty_core_in_use, untested):
        check = getattr(loose_ends, plain.__name__, None) or getattr(channels, plain.__name__)
        assert [(a.site, a.record, a.what) for a in check(s)] == list(plain(s)), plain.__name__


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(plants())
def test_checks_answer_as_plain_loops_do(rows):
    """On random plants each check says what the loop over cores, cables and channels says, in its order."""
    same_as_plain(situation(tables_of(rows, coded=True)))


def test_checks_answer_as_plain_loops_do_on_a_firm_with_faults_and_tests():
    """The same on a firm of several sites, with faulty cores in use, cores made off at one end, and tests of both sorts."""
    s = plant(5)
    for plain in (half_terminated, faulty_core_in_use, untested):
        assert len(list(plain(s))) > 5, plain.__name__
    assert {what for _, _, what in untested(s)} == {"only a light check was made, no loss test", "was never tested"}
    same_as_plain(s)


def test_growth_by_dates_is_what_a_mask_for_each_site_gives(tmp_path):
    """Every site's past is what the cores of that site alone give."""
    reg = fibrebook.create(tmp_path / "r")
    with reg.edit("ab", "built") as edit:
        for name, table in plant(3).tables.items():
            if table.num_rows:
                edit.put(name, table)
        days = [{"site": "S00001", "channel": str(n), "in_use_since": f"20{10 + n % 9}-03-01"} for n in range(1, 51)]
        edit.put("channels", days)
    found, net = _pasts(reg, None, TODAY), network(reg, None)
    of_core = net.ends.cable_site[net.ends.core_cable]
    lit = np.isin(core_states(net), (IN_SERVICE, PATCHED))
    names = net.ends.table("sites")["site"].to_pylist()
    by_mask = {
        name: by_dates(used_since(net)[lit & (of_core == own)], TODAY)
        for name, own in zip(names, net.ends.site_ids("sites").tolist(), strict=True)
    }
    assert len(names) == 3 and len(found["S00001"].days) > 10 and found == by_mask


@given(values=st.lists(st.integers(-3, 3)))
def test_grouped_gives_every_place_of_every_value(values):
    """Values rising, places rising, none missing, none twice."""
    array = np.array(values, np.int64)
    kinds, places = grouped(array)
    assert kinds.tolist() == sorted(set(values))
    assert [p.tolist() for p in places] == [[i for i, v in enumerate(values) if v == k] for k in kinds]


class Counted(np.ndarray):
    """An array that counts the elements that arithmetic and comparisons with it go through."""

    elements = 0

    def __array_ufunc__(self, ufunc, method, *inputs, **more):
        """Count, then work as any array."""
        plain = [i.view(np.ndarray) if isinstance(i, Counted) else i for i in inputs]
        Counted.elements += max(np.size(i) for i in plain)
        found = getattr(ufunc, method)(*plain, **more)
        return found.view(Counted) if isinstance(found, np.ndarray) and method != "at" else found


def work_of(monkeypatch, check, sites):
    """Elements gone through by one check on a firm of so many sites."""

    def counted_channels(net):
        """Count each making of the channels by path."""
        Counted.elements += net.n_vertices
        return path_channel(net).view(Counted)

    for module in (loose_ends, channels):
        monkeypatch.setattr(module, "path_channel", counted_channels)
    s = plant(sites)
    for holder, name in ((s, "states"), (s.net, "core_path"), (s.net.ends, "core_cable")):
        monkeypatch.setitem(holder.__dict__, name, getattr(holder, name).view(Counted))
    Counted.elements = 0
    list(check(s))
    monkeypatch.undo()
    return Counted.elements


def test_the_work_of_growth_by_dates_grows_with_the_plant(monkeypatch):
    """The same of the years' growth by site: no site looks at the cores of all."""
    counts, cores = [], []
    for sites in (20, 80):
        net = plant(sites).net
        cores.append(len(net.ends.core_cable))
        with monkeypatch.context() as patch:
            patch.setattr(growth, "_by_commits", lambda *_: {})
            patch.setattr(growth, "network", lambda *_, net=net: net)
            for name, real in (("core_states", core_states), ("used_since", used_since)):
                patch.setattr(growth, name, lambda net, real=real: real(net).view(Counted))
            patch.setitem(net.ends.__dict__, "core_cable", net.ends.core_cable.view(Counted))
            patch.setitem(net.ends.__dict__, "cable_site", net.ends.cable_site.view(Counted))
            Counted.elements = 0
            assert len(growth._pasts(None, None, TODAY)) == sites
        counts.append(Counted.elements)
    assert 0 < counts[1] <= 1.125 * counts[0] * cores[1] / cores[0], (counts, cores)


@pytest.mark.parametrize("check", CHECKS, ids=lambda c: c.__name__)
def test_the_work_of_a_check_grows_with_the_plant(check, monkeypatch):
    """Four times the sites are at most four and a half times the elements: no check looks at all cores for each."""
    small, large = (work_of(monkeypatch, check, sites) for sites in (5, 20))
    assert large <= 4.5 * small, (small, large)
