"""The store: edits land whole or not at all, whoever else is writing."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
import uuid
from pathlib import Path

import pandas as pd
import pyarrow.parquet as pq
import pytest

from fibrebook import errors
from fibrebook.register import create, open
from fibrebook.register.places.folder import LocalFolder
from fibrebook.register.row_files.written import SITES_EACH
from fibrebook.register.store.state import FORMAT


def small_plant(edit, site="S1"):
    """Put one site: two panels, a cable of 24 between them, twelve cores made off at each end."""
    edit.put("sites", [{"site": site, "name": "Mill"}])
    edit.put("enclosures", [{"site": site, "enclosure": e} for e in ("P1", "P2")])
    edit.put("cables", [{
        "site": site, "cable": "C1", "a_enclosure": "P1", "b_enclosure": "P2", "core_count": 24, "cores_per_tube": 12,
    }])  # fmt: skip
    ports = [{"site": site, "enclosure": e, "port": n} for e in ("P1", "P2") for n in range(1, 13)]
    edit.put("ports", [{**p, "connector": "LC"} for p in ports])
    edit.put("terminations", [{**p, "cable": "C1", "core": p["port"]} for p in ports])


@pytest.fixture
def reg(tmp_path):
    """A register with one site."""
    made = create(tmp_path / "reg", name="Test")
    with made.edit("ab", "set up") as edit:
        small_plant(edit)
    return made


def test_create_open_and_what_is_not_there(tmp_path):
    """A register is made once, opened by its place, and what is no register says so."""
    made = create(tmp_path / "r", name="  The  firm ")
    assert (made.name, made.commit, made.sites(), len(made.table("cables"))) == ("The firm", 0, [], 0)
    again = open(tmp_path / "r")
    assert again.id == made.id and uuid.UUID(made.id)
    with pytest.raises(errors.InputError, match="already"):
        create(tmp_path / "r")
    with pytest.raises(errors.NotFoundError, match="no register"):
        open(tmp_path / "elsewhere")
    with pytest.raises(errors.NotFoundError, match="no commit 3"):
        open(tmp_path / "r", at=3)


def test_put_reads_back_in_the_order_of_labels(reg):
    """Rows come back as put, typed, keys first, port 2 before port 10."""
    ports = reg.table("ports", "S1")
    assert list(ports.columns[:4]) == ["site", "enclosure", "port", "position"]
    assert ports.loc[ports.enclosure == "P1", "port"].tolist() == [str(n) for n in range(1, 13)]
    assert set(ports.connector) == {"LC"} and ports.polish.isna().all()
    with pytest.raises(errors.NotFoundError, match="did you mean 'S1'"):
        reg.table("ports", "S11")
    with pytest.raises(errors.NotFoundError, match="did you mean 'ports'"):
        reg.table("port")


def test_put_keeps_what_is_not_given_and_clears_what_is_given_blank(reg):
    """Columns left out keep their values, a blank clears, dicts may each give other columns."""
    with reg.edit("ab", "lengths") as edit:
        edit.put("cables", [{"site": "S1", "cable": "C1", "length_m": 120, "notes": "duct"}])
    with reg.edit("ab", "mend") as edit:
        edit.put("cables", {"site": "S1", "cable": "C1", "notes": None})
        edit.put("sites", [{"site": "S1", "customer": "X"}, {"site": "S2", "name": "Barn"}])
    cable = reg.table("cables").iloc[0]
    assert cable.length_m == 120 and pd.isna(cable.notes) and cable.core_count == 24
    sites = reg.table("sites").set_index("site")
    assert sites.loc["S1", "name"] == "Mill" and sites.loc["S1", "customer"] == "X"
    assert pd.isna(sites.loc["S2", "customer"])


def test_a_label_is_one_in_any_dress(reg):
    """1, 1.0 and "1" address the same port."""
    for n, connector in ((1, "SC"), (1.0, "ST"), ("1", "FC")):
        with reg.edit("ab", "dress") as edit:
            edit.put("ports", [{"site": "S1", "enclosure": "P1", "port": n, "connector": connector}])
        assert len(reg.table("ports")) == 24
        assert reg.table("ports").connector[0] == connector


def test_leaving_by_an_exception_commits_nothing(reg):
    """An edit that is broken off leaves no trace; an empty one makes no commit."""
    with pytest.raises(ZeroDivisionError), reg.edit("ab", "broken") as edit:
        edit.put("sites", [{"site": "S2"}])
        raise ZeroDivisionError
    assert reg.commit == 1 and reg.sites() == ["S1"]
    with reg.edit("ab", "nothing new") as edit:
        edit.put("sites", [{"site": "S1", "name": "Mill"}])
    assert edit.commit is None and reg.commit == 1
    with pytest.raises(errors.InputError, match="over"):
        edit.put("sites", [{"site": "S2"}])


@pytest.mark.parametrize(
    ("table", "rows", "error", "said"),
    [
        ("cables", [{"site": "S1", "cable": "C2"}], errors.InputError, "core_count"),
        ("cables", [{"site": "S1", "cable": "C1", "core_count": "many"}], errors.InputError, "many"),
        (
            "cables",
            [{"site": "S1", "cable": "C1", "cores": 1}],
            errors.InputError,
            "there is no column 'cores'",
        ),
        ("sites", [{"site": "S2"}, {"site": "S2", "name": "x"}], errors.RuleError, "earlier row"),
        ("sites", ["S2"], errors.InputError, "no dict"),
        ("enclosures", [{"site": "S9", "enclosure": "P1"}], errors.RuleError, "no site 'S9'"),
        ("cores", [{"site": "S1", "cable": "C1", "core": 25}], errors.RuleError, "no core 25"),
        (
            "terminations",
            [{"site": "S1", "enclosure": "P1", "port": 1, "cable": "C1", "core": 2}],
            errors.RuleError,
            "joined twice",
        ),
    ],
)
def test_what_does_not_fit_is_refused_whole(reg, table, rows, error, said):
    """Wrong values and broken hard rules name the row and commit nothing, not even the good rows beside."""
    with pytest.raises(error, match=said), reg.edit("ab", "wrong") as edit:
        edit.put("sites", [{"site": "S3"}])
        edit.put(table, rows)
    assert reg.commit == 1 and reg.sites() == ["S1"]
    assert len(reg.pending()) == 0


def test_who_and_why_must_be_said(reg):
    """Every commit has somebody's initials and a reason."""
    for by, why in (("", "x"), ("ab", "  "), (None, "x")):
        with pytest.raises(errors.InputError, match="blank"):
            reg.edit(by, why)


def test_remove(reg):
    """Rows go by key in any dress; what is not there is named; what others lean on stays."""
    with reg.edit("ab", "remove") as edit:
        edit.remove("terminations", ("S1", "P1", "1"))
        edit.remove("terminations", [("S1", "P1", 2, ""), {"site": "S1", "enclosure": "P1", "port": 3}])
        edit.remove("terminations", pd.DataFrame({"site": ["S1"], "enclosure": ["P1"], "port": ["4"], "core": [4]}))
    assert len(reg.table("terminations")) == 20
    with pytest.raises(errors.NotFoundError, match="P1/1"), reg.edit("ab", "again") as edit:
        edit.remove("terminations", ("S1", "P1", "1"))
    with pytest.raises(errors.RuleError, match="no cable 'C1'"), reg.edit("ab", "cable") as edit:
        edit.remove("cables", ("S1", "C1"))


def test_cores_follow_from_their_cable(reg):
    """Cores are all there with colours; only what is said of them is stored; the cable can be mended later."""
    cores = reg.table("cores")
    assert len(cores) == 24
    # TIA-598: blue, orange ... the thirteenth core is blue again, in the second (orange) tube
    assert cores.loc[12, ["tube", "tube_colour", "core_colour"]].tolist() == [2, "orange", "blue"]
    cores.loc[3, "condition"] = "faulty"
    cores.loc[4, "core_colour"] = "pink"
    with reg.edit("ab", "all cores written back") as edit:
        edit.put("cores", cores)
    said = reg.tables()["cores"].to_pylist()
    assert [(r["core"], r["core_colour"], r["condition"]) for r in said] == [
        (4, None, "faulty"),
        (5, "pink", None),
    ]
    with reg.edit("ab", "it is a Swiss cable of 12 in one tube, and the sheet was of before") as edit:
        edit.put("cables", [{"site": "S1", "cable": "C1", "core_count": 12, "cores_per_tube": None,
                             "colour_code": "Swiss"}])  # fmt: skip
        edit.put("cores", cores[cores.core <= 12])
    now = reg.table("cores")
    assert len(now) == 12 and now.core_colour[4] == "pink" and now.core_colour[0] == "red"  # Swiss order: red first
    assert len(reg.tables()["cores"]) == 2
    with reg.edit("ab", "all well") as edit:
        edit.put("cores", [{"site": "S1", "cable": "C1", "core": 4, "condition": None}])
        edit.remove("cores", [("S1", "C1", 5), ("S1", "C1", 6)])
    assert len(reg.tables()["cores"]) == 0 and len(reg.table("cores")) == 12
    with pytest.raises(errors.NotFoundError), reg.edit("ab", "no such core") as edit:
        edit.remove("cores", ("S1", "C1", 13))


def test_removing_a_cable_removes_what_is_said_of_its_cores(reg):
    """No word about a core outlives its cable."""
    with reg.edit("ab", "reserve") as edit:
        edit.put("cores", [{"site": "S1", "cable": "C1", "core": 20, "reserved_for": "alarm"}])
    with reg.edit("ab", "cable pulled out") as edit:
        edit.remove("terminations", reg.table("terminations"))
        edit.remove("cables", ("S1", "C1"))
    assert len(reg.tables()["cores"]) == 0 and len(reg.table("cores")) == 0


def test_own_colour_codes_colour_cores(reg):
    """A firm's own code stands beside the published ones and belongs to no site."""
    with reg.edit("ab", "own code") as edit:
        edit.put("colour_codes", [{"colour_code": "Ours", "position": i + 1, "colour": c}
                                  for i, c in enumerate(["white", "red", "black"])])  # fmt: skip
        edit.put("cables", [{"site": "S1", "cable": "C9", "core_count": 3, "colour_code": "Ours"}])
    assert reg.own_codes() == {"Ours": ["white", "red", "black"]}
    cores = reg.table("cores", "S1")
    assert cores.loc[cores.cable == "C9", "core_colour"].tolist() == ["white", "red", "black"]
    assert set(reg.tables("S1")["colour_codes"]["colour_code"].to_pylist()) == {"Ours"}
    with reg.edit("ab", "gone again") as edit:
        edit.remove("colour_codes", [("Ours", 1), ("Ours", 2), ("Ours", 3)])
    assert reg.own_codes() == {}


def test_rename_carries_every_row_that_refers(reg):
    """A new label on a cable, panel, port or site reaches all that name it, and nothing else."""
    with reg.edit("ab", "more") as edit:
        edit.put("equipment", [{"site": "S1", "equipment": "SW"}])
        edit.put(
            "interfaces",
            [{"site": "S1", "equipment": "SW", "interface": 1, "position": p} for p in ("Tx", "Rx")],
        )
        edit.put("interfaces", [{"site": "S1", "equipment": "SW", "interface": 2, "position": "TxRx"}])
        edit.put("channels", [{"site": "S1", "channel": "A", "a_equipment": "SW", "a_interface": 1,
                               "b_equipment": "SW", "b_interface": 2}])  # fmt: skip
        edit.put("patches", [{"site": "S1", "cord": "K", "strand": 1, "a_at": "P1", "a_port": 3, "b_at": "SW",
                              "b_port": 1, "b_position": "Tx"}])  # fmt: skip
        edit.put("cores", [{"site": "S1", "cable": "C1", "core": 5, "condition": "faulty"}])
        edit.put("tests", [{"site": "S1", "test": 1, "from_at": "P1", "from_port": 3, "cable": "C1", "core": 3}])
    before = reg.tables()
    with reg.edit("ab", "new labels") as edit:
        edit.rename("cables", "S1", "C1", "C/2")
        edit.rename("ports", "S1", ("P1", 3), ("P1", 33))
        edit.rename("enclosures", "S1", "P1", "PX")
        edit.rename("interfaces", "S1", ("SW", 1), ("SW", "uplink"))
        edit.rename("equipment", "S1", "SW", "SX")
    now = reg.tables()
    assert {n: t.num_rows for n, t in now.items()} == {n: t.num_rows for n, t in before.items()}
    assert set(now["terminations"]["cable"].to_pylist()) == {"C/2"} == set(now["cores"]["cable"].to_pylist())
    patch = now["patches"].to_pylist()[0]
    assert [patch[c] for c in ("a_at", "a_port", "b_at", "b_port", "b_position")] == [
        "PX",
        "33",
        "SX",
        "uplink",
        "Tx",
    ]
    channel = now["channels"].to_pylist()[0]
    assert [channel[c] for c in ("a_equipment", "a_interface", "b_interface")] == ["SX", "uplink", "2"]
    assert [now["tests"].to_pylist()[0][c] for c in ("from_at", "from_port", "cable")] == ["PX", "33", "C/2"]
    assert now["cables"].to_pylist()[0]["a_enclosure"] == "PX"
    with reg.edit("ab", "site") as edit:
        edit.rename("sites", "S1", "S1", "North")
    assert reg.sites() == ["North"]
    assert all(set(t["site"].to_pylist()) <= {"North"} for n, t in reg.tables().items() if "site" in t.column_names)
    assert len(reg.verify()) == 0


def test_rename_refuses(reg):
    """A label that is taken, or a record that is not there, changes nothing."""
    for kind, old, new, error in (
        ("enclosures", "P1", "P2", errors.RuleError),
        ("enclosures", "P9", "P3", errors.NotFoundError),
        ("ports", "1", "2", errors.InputError),
        ("cores", ("C1", 1), ("C1", 2), errors.InputError),
        ("sites", "S9", "S2", errors.NotFoundError),
    ):
        with pytest.raises(error), reg.edit("ab", "wrong") as edit:
            edit.rename(kind, "S1", old, new)
    assert reg.commit == 1


def test_preview_shows_what_would_be_made(reg):
    """The preview lists the changes in the columns of history, before anything is committed."""
    with reg.edit("ab", "look first") as edit:
        edit.put("cables", [{"site": "S1", "cable": "C1", "length_m": 80.5}])
        seen = edit.preview()
    assert seen[["table", "key", "column", "after"]].values.tolist() == [["cables", ("S1", "C1"), "length_m", 80.5]]
    assert seen.before.isna().all() and seen.commit.isna().all()
    assert list(seen.columns) == list(reg.history().columns)


def test_two_handles_commit_in_turn(reg):
    """A second handle sees the first one's commit at its next call, and edits of other cells merge."""
    other = open(reg.where)
    mine = reg.edit("ab", "length")
    mine.put("cables", [{"site": "S1", "cable": "C1", "length_m": 10}])
    with other.edit("cd", "route") as edit:
        edit.put("cables", [{"site": "S1", "cable": "C1", "route": "duct 3"}])
        edit.put("sites", [{"site": "S2"}])
    assert mine.finish() == 3
    cable = other.table("cables").iloc[0]
    assert (cable.length_m, cable.route, other.commit, reg.sites()) == (10, "duct 3", 3, ["S1", "S2"])


def conflicting(reg):
    """Make two edits of one cell; return the error of the second."""
    late = reg.edit("ab", "I measured")
    late.put("cables", [{"site": "S1", "cable": "C1", "length_m": 10, "notes": "by tape"}])
    with open(reg.where).edit("cd", "they measured") as edit:
        edit.put("cables", [{"site": "S1", "cable": "C1", "length_m": 12}])
    with pytest.raises(errors.ConflictError) as caught:
        late.finish()
    return caught.value


def test_a_conflict_is_shown_and_the_edit_kept(reg):
    """The same cell changed twice stops the later edit, shows all three values and keeps it until decided."""
    error = conflicting(reg)
    row = error.conflicts.iloc[0]
    assert (row.table, row.key, row.column, row.base, row.theirs, row.mine) == (
        "cables", ("S1", "C1"), "length_m", None, 12.0, 10.0
    )  # fmt: skip
    assert reg.commit == 2 and reg.table("cables").length_m[0] == 12
    waiting = open(reg.where).pending()
    assert waiting.name.tolist() == [error.pending] and waiting.by.tolist() == ["ab"] and waiting.base.tolist() == [1]
    assert reg.pending_conflicts(error.pending).equals(error.conflicts)
    with pytest.raises(errors.ConflictError):
        reg.pending_resolve(error.pending)
    assert len(reg.pending()) == 1


@pytest.mark.parametrize(("choice", "length"), [("mine", 10), ("theirs", 12), ({0: "mine"}, 10), (["theirs"], 12)])
def test_a_kept_edit_is_settled(reg, choice, length):
    """A choice for each conflict commits the kept edit; its other cells come along either way."""
    name = conflicting(reg).pending
    assert reg.pending_resolve(name, choice) == 3
    cable = reg.table("cables").iloc[0]
    assert cable.length_m == length and cable.notes == "by tape"
    assert len(reg.pending()) == 0
    with pytest.raises(errors.NotFoundError):
        reg.pending_drop(name)


def test_two_cores_into_one_port_is_a_conflict(reg):
    """What is right alone and wrong together is a conflict, not a broken rule; the edit is kept and can be dropped."""
    late = reg.edit("ab", "patch")
    late.put("ports", [{"site": "S1", "enclosure": "P1", "port": 30}])
    late.put("terminations", [{"site": "S1", "enclosure": "P1", "port": 30, "cable": "C1", "core": 20}])
    with open(reg.where).edit("cd", "the same core elsewhere") as edit:
        edit.put("ports", [{"site": "S1", "enclosure": "P1", "port": 31}])
        edit.put("terminations", [{"site": "S1", "enclosure": "P1", "port": 31, "cable": "C1", "core": 20}])
    with pytest.raises(errors.ConflictError, match="joined twice") as caught:
        late.finish()
    reg.pending_drop(caught.value.pending)
    assert len(reg.pending()) == 0 and reg.commit == 2


def test_an_edit_based_on_an_earlier_commit_merges(reg):
    """A sheet that left the house at commit 1 comes back onto commit 2: only its own changes count."""
    with reg.edit("cd", "meanwhile") as edit:
        edit.put("cables", [{"site": "S1", "cable": "C1", "length_m": 12}])
    with reg.edit("ab", "sheet returns", base=1) as edit:
        edit.put("cables", [{"site": "S1", "cable": "C1", "length_m": None, "notes": "seen"}])
    cable = reg.table("cables").iloc[0]
    assert cable.length_m == 12 and cable.notes == "seen"
    with pytest.raises(errors.NotFoundError):
        reg.edit("ab", "from the future", base=99)


def test_a_forced_race_is_won_at_the_second_try(reg):
    """Somebody who commits between our look and our write costs a second try, and both commits stand."""
    rival, store = open(reg.where), reg._store
    real = store.log.append
    calls = []

    def in_between(number, content):
        calls.append(number)
        if len(calls) == 1:
            with rival.edit("cd", "in between") as edit:
                edit.put("sites", [{"site": "S2"}])
        real(number, content)

    store.log.append = in_between
    with reg.edit("ab", "raced") as edit:
        edit.put("sites", [{"site": "S3"}])
    assert calls == [2, 3] and edit.commit == 3 and reg.sites() == ["S1", "S2", "S3"]
    assert len(reg.verify()) == 0


def test_threads_racing_lose_nothing(reg):
    """Four writers of six commits each: every commit lands once, numbers have no gap, every row is there."""
    failures: list[BaseException] = []

    def write(who: int) -> None:
        try:
            mine = open(reg.where)
            for n in range(6):
                with mine.edit(f"w{who}", f"row {n}") as edit:
                    edit.put("locations", [{"site": "S1", "location": f"{who}-{n}"}])
                assert f"{who}-{n}" in mine.table("locations").location.tolist()
        except BaseException as error:
            failures.append(error)

    threads = [threading.Thread(target=write, args=(w,)) for w in range(4)]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    assert failures == []
    assert sorted(reg.table("locations").location) == sorted(f"{w}-{n}" for w in range(4) for n in range(6))
    assert reg.log().commit.tolist() == list(range(1, 26)) and len(reg.verify()) == 0


def test_an_own_commit_reported_as_lost_is_found(reg):
    """Where the connection breaks after the commit landed, it counts once and is not made again."""
    from fibrebook.register.places.where import OutcomeUnknown

    store = reg._store
    real, calls = store.blobs.create, []

    def breaks(path, data):
        real(path, data)
        if path.startswith("commits/") and not calls:
            calls.append(path)
            raise OutcomeUnknown("the line broke")

    store.blobs.create = breaks
    with reg.edit("ab", "on a bad line") as edit:
        edit.put("sites", [{"site": "S2"}])
    assert edit.commit == 2 and reg.commit == 2 and reg.sites() == ["S1", "S2"]


def test_an_outcome_that_stays_unknown_is_told(reg, monkeypatch):
    """Where no answer comes at all the error says to look first; where the disk refuses, that it did not land."""
    from fibrebook.register.commits import writing as c
    from fibrebook.register.places.where import OutcomeUnknown

    monkeypatch.setattr(c, "_pause", lambda again: None)
    store = reg._store
    real = store.blobs.create
    cases = {
        OutcomeUnknown("silence"): errors.UnknownOutcomeError,
        OSError(28, "no space left"): errors.NotCommittedError,
    }
    for error, expected in cases.items():

        def fails(path, data, error=error):
            if path.startswith("commits/"):
                raise error
            real(path, data)

        store.blobs.create = fails
        with pytest.raises(expected), reg.edit("ab", "no luck") as edit:
            edit.put("sites", [{"site": "S2"}])
    assert open(reg.where).commit == 1


def test_sites_fill_segments_in_turn_and_a_save_touches_one(tmp_path):
    """The 65th site opens a second segment; saving one site writes files of its segment only."""
    reg = create(tmp_path / "r")
    with reg.edit("ab", "many") as edit:
        edit.put("sites", [{"site": n} for n in range(1, SITES_EACH + 4)])
        edit.put("locations", [{"site": n, "location": "hall"} for n in range(1, SITES_EACH + 4)])
    state = reg._state()
    assert sorted(set(state.sites.values())) == ["0001", "0002"]
    with reg.edit("ab", "one") as edit:
        edit.put("locations", [{"site": 66, "location": "loft"}])
    assert reg._store.log.commit(2)["segments"].keys() == {"locations"}
    assert reg._store.log.commit(2)["segments"]["locations"].keys() == {"0002"}
    assert reg.table("locations", "66").location.tolist() == ["hall", "loft"]
    with reg.edit("ab", "site closed") as edit:
        edit.remove("locations", [("66", "hall"), ("66", "loft")])
        edit.remove("sites", ["66"])
    assert "66" not in reg._state().sites and len(reg.sites()) == SITES_EACH + 2
    with pytest.raises(errors.NotFoundError):
        reg.table("locations", "66")


def test_opening_over_checkpoints_and_without(tmp_path):
    """A fresh handle reads the same at every commit, across two checkpoints."""
    reg = create(tmp_path / "r")
    for n in range(1, 70):
        with reg.edit("ab", "add") as edit:
            edit.put("sites", [{"site": n}])
    assert "checkpoint" in reg._store.log.commit(64)
    for at in (0, 1, 31, 32, 33, 63, 64, 65, 69):
        assert open(reg.where, at=at).sites() == [str(n) for n in range(1, at + 1)]
    assert len(reg.verify()) == 0


def test_read_only(reg):
    """A register opened read-only, or as it was, takes no changes and does not move on."""
    with reg.edit("ab", "second") as edit:
        edit.put("sites", [{"site": "S2"}])
    for handle in (open(reg.where, at=1), open(reg.where, read_only=True)):
        with pytest.raises(errors.ReadOnlyError):
            handle.edit("ab", "x")
        with pytest.raises(errors.ReadOnlyError):
            handle.undo(1, "ab", "x")
    assert open(reg.where, at=1).sites() == ["S1"] and open(reg.where, read_only=True).sites() == ["S1", "S2"]


def test_a_newer_format_is_refused(reg):
    """A register of a later fibrebook is not guessed at."""
    head = Path(reg.where) / "register.json"
    head.write_text(head.read_text().replace(f'"format":{FORMAT}', f'"format":{FORMAT + 1}'))
    with pytest.raises(errors.FormatError, match="newer"):
        open(reg.where)


@pytest.mark.parametrize("folder", ["commits", "changes", "tables/ports", "tables/cables"])
def test_one_flipped_bit_is_found(reg, folder):
    """Verify names the damaged file (and the sites in it), wherever the bit is."""
    with reg.edit("ab", "second") as edit:
        edit.put("ports", [{"site": "S1", "enclosure": "P1", "port": 1, "polish": "APC"}])
    assert len(reg.verify()) == 0
    for path in sorted((Path(reg.where) / folder).iterdir()):
        good = path.read_bytes()
        for place in (0, len(good) // 3, len(good) - 2):
            path.write_bytes(good[:place] + bytes([good[place] ^ 1]) + good[place + 1 :])
            found = reg.verify()
            assert f"{folder}/{path.name}" in found.file.tolist()
            if folder.startswith("tables"):
                assert found.sites.tolist() == ["S1"] and found.table.tolist() == [folder[7:]]
        path.write_bytes(good)


def test_missing_files_are_found_and_reading_says_so(reg):
    """A lost segment is named by verify, and reading it is an error in words; a lost commit is a gap."""
    with reg.edit("ab", "second") as edit:
        edit.put("sites", [{"site": "S2"}])
    for path in (Path(reg.where) / "tables" / "ports").iterdir():
        path.unlink()
    assert reg.verify().what.tolist() == ["is missing"]
    with pytest.raises(errors.DamagedError, match="ports"):
        open(reg.where).table("ports")
    (Path(reg.where) / "commits" / "00000001.json").unlink()
    assert "commits/00000001.json" in reg.verify().file.tolist()
    with pytest.raises(errors.DamagedError, match="commit 1 is missing"):
        open(reg.where).sites()


def test_published_files_open_everywhere(reg, tmp_path):
    """One plain Parquet file a table, cores in full, read alike by pandas, pyarrow and DuckDB."""
    import duckdb

    paths = reg.publish(tmp_path / "out")
    assert reg.publish(tmp_path / "out") == paths and len(list((tmp_path / "out").iterdir())) == len(paths)
    for path in paths:
        name = path.stem
        expected = reg.arrow(name).num_rows
        assert len(pd.read_parquet(path)) == pq.read_table(path).num_rows == expected
        assert duckdb.sql(f"select count(*) from read_parquet('{path.as_posix()}')").fetchall() == [(expected,)]
    colours = duckdb.sql(f"select core_colour from read_parquet('{(tmp_path / 'out' / 'cores.parquet').as_posix()}')")
    assert colours.fetchall()[:2] == [("blue",), ("orange",)]
    assert "dictionary" not in str(pq.read_table(tmp_path / "out" / "cores.parquet").schema)


KILLED = """
import sys
from fibrebook.register import open
reg = open(sys.argv[1])
n = reg.commit
while True:
    n += 1
    with reg.edit("kk", f"save {n}") as edit:
        edit.put("visits", [{"site": "S1", "visit": n, "done": "x" * 2000}])
        edit.put("snags", [{"site": "S1", "snag": n, "what": "y" * 2000}])
    print(n, flush=True)
"""


@pytest.mark.skipif(os.name == "nt", reason="kill -9 is of POSIX")
def test_kill_in_the_middle_of_saves_loses_nothing(reg):
    """A writer killed at odd moments leaves every acknowledged save whole, both tables alike, and the next goes on."""
    for pause in (0.05, 0.11, 0.017):
        writer = subprocess.Popen([sys.executable, "-c", KILLED, reg.where], stdout=subprocess.PIPE, text=True)
        assert writer.stdout is not None
        acknowledged = [int(writer.stdout.readline())]
        time.sleep(pause)
        writer.send_signal(signal.SIGKILL)
        acknowledged += [int(line) for line in writer.stdout.read().split() if line.strip()]
        writer.wait()
        now = open(reg.where)
        visits, snags = set(now.table("visits").visit), set(now.table("snags").snag)
        assert visits == snags and {str(n) for n in acknowledged} <= visits
        assert now.commit - max(acknowledged) in (0, 1)  # one save may have landed before it could be told
        assert len(now.verify()) == 0
    assert LocalFolder(reg.where).list("commits") == [f"{n:08d}.json" for n in range(1, reg.commit + 1)]


def test_a_cold_start_imports_neither_pandas_nor_the_bucket_library(reg):
    """A command that looks up or edits a site pays for neither slow import; a DataFrame can still be had after."""
    code = """
import sys
from fibrebook.records.cold import leave_pandas_out
leave_pandas_out()
from fibrebook.register import open
reg = open(sys.argv[1])
rows, cores = reg.tables("S1")["ports"].num_rows, reg.cores("S1").num_rows
with reg.edit("ab", "cold") as edit:
    edit.put("sites", [{"site": "S2"}])
print(rows, cores, "pandas" in sys.modules, "obstore" in sys.modules)
print(type(reg.table("sites")).__module__, reg.table("sites").site.tolist(), "pandas" in sys.modules)
"""
    out = subprocess.run([sys.executable, "-c", code, reg.where], capture_output=True, text=True, check=True)
    assert out.stdout.splitlines()[0].split() == ["24", "24", "False", "False"]
    assert "['S1', 'S2'] True" in out.stdout
