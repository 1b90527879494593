"""A copy taken away and brought back: every commit arrives, nothing is lost, only true conflicts are asked about."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fibrebook import errors
from fibrebook.register import create, open
from fibrebook.register.care.redact import personal_columns
from fibrebook.register.commits.decisions import read_decisions, write_conflicts


def put(reg, table, by="ab", why="change", **row):
    """Put one row in one commit."""
    with reg.edit(by, why) as edit:
        edit.put(table, [row])
    return edit.commit


@pytest.fixture
def reg(tmp_path):
    """Two sites with an enclosure and a cable each, personal data, a core that is reserved, a colour code."""
    made = create(tmp_path / "reg", name="Test")
    with made.edit("ab", "set up") as edit:
        for site in ("S1", "S2"):
            edit.put("sites", [{"site": site, "name": "Mill", "contact": "gatekeeper", "access": "code 0000"}])
            edit.put("enclosures", [{"site": site, "enclosure": e} for e in ("P1", "P2")])
            edit.put("ports", [{"site": site, "enclosure": "P1", "port": n} for n in (1, 2, 3)])
            edit.put("cables", [{"site": site, "cable": "C1", "a_enclosure": "P1", "b_enclosure": "P2",
                                 "core_count": 12}])  # fmt: skip
        edit.put("cores", [{"site": "S1", "cable": "C1", "core": 5, "reserved_for": "alarm"}])
        edit.put("colour_codes", [{"colour_code": "Ours", "position": 1, "colour": "white"}])
    put(made, "cables", why="measured", site="S1", cable="C1", length_m=80)
    return made


PLACES = pytest.mark.parametrize("site", [None, ["S1"]], ids=["whole", "one site"])


@PLACES
def test_commits_arrive_with_their_authors_and_times(reg, tmp_path, site):
    """Days of work in a copy come back as the commits they were: who, why, when; twice changes nothing."""
    copy = reg.take_away(tmp_path / "van", site)
    assert copy.id == reg.id and len(copy.verify()) == 0
    assert copy.table("cores", "S1").equals(reg.table("cores", "S1"))
    put(copy, "cables", "cd", "wet duct", site="S1", cable="C1", notes="wet")
    put(copy, "enclosures", "ef", "new box", site="S1", enclosure="P3")
    put(copy, "cables", "cd", "measured again", site="S1", cable="C1", length_m=81, notes="wet duct")
    put(reg, "cables", "gh", "meanwhile", site="S1", cable="C1", route="roof")
    there = copy.log().tail(3)
    assert reg.bring_back(tmp_path / "van", "ab", "back from site") == 6
    here = reg.log().tail(3)
    assert here.by.tolist() == ["cd", "ef", "cd"] and here.why.tolist() == there.why.tolist()
    assert here.time_utc.tolist() == there.time_utc.tolist() and here.arrived_utc.notna().all()
    cable = reg.table("cables", "S1").iloc[0]
    assert (cable.length_m, cable.notes, cable.route) == (81, "wet duct", "roof")
    history = reg.history("cables", ("S1", "C1"))
    assert history[history.column == "notes"][["by", "before", "after"]].values.tolist() == [
        ["cd", None, "wet"], ["cd", "wet", "wet duct"],
    ]  # fmt: skip
    assert reg.bring_back(tmp_path / "van", "ab", "again") is None and reg.commit == 6
    put(copy, "enclosures", "ef", "one more", site="S1", enclosure="P4")
    assert reg.bring_back(tmp_path / "van", "ab", "the rest") == 7
    assert len(reg.verify()) == 0 and reg.undo(6, "ab", "no") == 8


def test_a_copy_of_some_sites_holds_nothing_of_the_others(reg, tmp_path):
    """What was not taken is not in the copy, in no file of it; firm's own records and cores are."""
    put(reg, "sites", site="S2", notes="secret of the other site")
    copy = reg.take_away(tmp_path / "van", "S1")
    assert copy.sites() == ["S1"] and copy.own_codes() == {"Ours": ["white"]} and copy.commit == 1
    for table in copy.tables().values():
        assert "site" not in table.column_names or set(table["site"].to_pylist()) <= {"S1"}
    held = b"".join(p.read_bytes() for p in (tmp_path / "van").rglob("*") if p.is_file())
    assert b"S2" not in held
    with pytest.raises(errors.NotFoundError, match="no site 'S9'"):
        reg.take_away(tmp_path / "x", "S9")
    with pytest.raises(errors.InputError, match="already"):
        reg.take_away(tmp_path / "van")


def test_one_switch_leaves_personal_data_out(reg, tmp_path):
    """Contacts, addresses and gate codes stay at home; what is typed in the copy comes back, the rest is untouched."""
    copy = reg.take_away(tmp_path / "van", personal=False)
    for table, columns in personal_columns().items():
        for column in columns:
            assert copy.arrow(table)[column].null_count == copy.arrow(table).num_rows
    assert not any("gatekeeper" in str(v) for v in copy.history().after)
    put(copy, "sites", "cd", site="S1", contact="new keeper", notes="seen")
    put(copy, "sites", "cd", site="S2", notes="seen too")
    put(copy, "sites", "cd", site="S3", name="Barn", contact="farmer")
    assert reg.bring_back(tmp_path / "van", "ab", "back") == 5
    sites = reg.table("sites").set_index("site")
    assert sites.contact.tolist() == ["new keeper", "gatekeeper", "farmer"]
    assert sites.access.tolist()[:2] == ["code 0000"] * 2 and sites.notes.tolist()[:2] == ["seen", "seen too"]


@PLACES
def test_conflicts_are_told_side_by_side_and_decided_in_a_file(reg, tmp_path, site):
    """Nothing comes back while the same cell differs; a file with decisions settles it, for good."""
    copy = reg.take_away(tmp_path / "van", site)
    put(copy, "cables", "cd", site="S1", cable="C1", notes="=1+1", length_m=90)
    put(copy, "enclosures", "cd", site="S1", enclosure="P9")
    put(reg, "cables", "gh", site="S1", cable="C1", notes="dry", length_m=85)
    with pytest.raises(errors.ConflictError) as caught:
        reg.bring_back(tmp_path / "van", "ab", "back")
    told = caught.value.conflicts
    assert told[["column", "theirs", "mine"]].values.tolist() == [["length_m", 85, 90], ["notes", "dry", "=1+1"]]
    assert reg.commit == 3 and len(reg.pending()) == 0
    path = write_conflicts(told, tmp_path / "conflicts.csv")
    text = path.read_text(encoding="utf-8-sig")
    assert not any(cell.startswith(("=", "+", "-", "@")) for line in text.splitlines() for cell in line.split(","))
    with pytest.raises(errors.ConflictError):
        reg.bring_back(tmp_path / "van", "ab", "undecided", choices=read_decisions(path))
    lines = text.splitlines()
    path.write_text("\n".join([lines[0], lines[1] + "theirs", lines[2] + "Mine"]) + "\n", encoding="utf-8")
    assert reg.bring_back(tmp_path / "van", "ab", "decided", choices=read_decisions(path)) == 5
    cable = reg.table("cables", "S1").iloc[0]
    assert (cable.length_m, cable.notes) == (85, "=1+1") and "P9" in reg.table("enclosures", "S1").enclosure.tolist()
    assert reg.bring_back(tmp_path / "van", "ab", "again") is None
    assert cable.equals(reg.table("cables", "S1").iloc[0])


@pytest.mark.parametrize(
    ("content", "error"),
    [
        ("table,key,column,decision\ncables,x,notes,mine\n", errors.InputError),
        ('table,key,column,decision\ncables,"[""S1""]",notes,perhaps\n', errors.InputError),
        ("some,other,file\n1,2,3\n", errors.InputError),
        (b"\xff\xfe\x00", errors.InputError),
    ],
)
def test_a_wrong_file_of_decisions_is_refused(tmp_path, content, error):
    """What is no list of conflicts, or holds another word than mine and theirs, says so."""
    path = tmp_path / "d.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    with pytest.raises(error):
        read_decisions(path)
    with pytest.raises(errors.NotFoundError):
        read_decisions(tmp_path / "none.csv")


def test_what_cannot_stand_together_is_a_conflict(reg, tmp_path):
    """Two people put different cores into one port: told with the rule, brought back once one of them gives way."""
    copy = reg.take_away(tmp_path / "van")
    put(copy, "terminations", "cd", site="S1", enclosure="P1", port=1, cable="C1", core=1)
    put(reg, "terminations", "gh", site="S1", enclosure="P1", port=2, cable="C1", core=1)
    with pytest.raises(errors.ConflictError, match="joined twice"):
        reg.bring_back(tmp_path / "van", "ab", "back")
    put(reg, "terminations", "gh", site="S1", enclosure="P1", port=2, cable="C1", core=2)
    assert reg.bring_back(tmp_path / "van", "ab", "back") == 5


def test_commits_that_stand_only_together_become_one(reg, tmp_path):
    """A step of the copy that breaks a rule here is brought together with the step that mends it."""
    copy = reg.take_away(tmp_path / "van")
    put(copy, "terminations", "cd", site="S1", enclosure="P1", port=1, cable="C1", core=1)
    put(copy, "terminations", "ef", site="S1", enclosure="P1", port=1, cable="C1", core=3)
    put(reg, "terminations", "gh", site="S1", enclosure="P1", port=2, cable="C1", core=1)
    assert reg.bring_back(tmp_path / "van", "ab", "back") == 4
    assert sorted(reg.table("terminations").core) == [1, 3] and len(reg.verify()) == 0


def test_a_site_that_both_made_under_one_label(reg, tmp_path):
    """A site made in a copy of some sites does not fall together with another of that label here."""
    copy = reg.take_away(tmp_path / "van", "S1")
    put(copy, "sites", site="S2", name="another place")
    with pytest.raises(errors.InputError, match="relabel"):
        reg.bring_back(tmp_path / "van", "ab", "back")
    with copy.edit("cd", "relabel") as edit:
        edit.rename("sites", "S2", "S2", "S22")
    other = reg.table("sites", "S2")
    assert reg.bring_back(tmp_path / "van", "ab", "back") == 4
    assert reg.sites() == ["S1", "S2", "S22"] and reg.table("sites", "S2").equals(other)
    assert "S2" not in reg.history(site="S2").query("commit > 2").key.map(lambda k: k[0]).tolist()


def test_what_is_no_copy_is_refused(reg, tmp_path):
    """Another register, or a copy of a state that this register never had, is not merged."""
    with pytest.raises(errors.InputError, match="no copy"):
        reg.bring_back(create(tmp_path / "other").where, "ab", "x")
    twin = shutil.copytree(reg.where, tmp_path / "twin")
    ahead = open(twin)
    put(ahead, "sites", site="S1", notes="only there")
    ahead.take_away(tmp_path / "van", "S1")
    with pytest.raises(errors.InputError, match="does not have"):
        reg.bring_back(tmp_path / "van", "ab", "x")


def test_a_bringing_back_that_is_broken_off_goes_on_where_it_stopped(reg, tmp_path, monkeypatch):
    """Stopped between two commits and done again, each commit has arrived once."""
    from fibrebook.register.copies import bring_back as module

    copy = reg.take_away(tmp_path / "van")
    for n in range(4):
        put(copy, "cables", "cd", f"step {n}", site="S1", cable="C1", notes=str(n))
    put(reg, "cables", site="S1", cable="C1", route="roof")
    real, calls = module.commit, []

    def broken(store, proposal):
        calls.append(1)
        if len(calls) == 3:
            raise KeyboardInterrupt
        return real(store, proposal)

    with monkeypatch.context() as patch, pytest.raises(KeyboardInterrupt):
        patch.setattr(module, "commit", broken)
        reg.bring_back(tmp_path / "van", "ab", "back")
    assert reg.commit == 5
    assert reg.bring_back(tmp_path / "van", "ab", "back") == 7
    assert reg.log().why.tolist()[3:] == [f"step {n}" for n in range(4)]
    assert reg.table("cables", "S1").notes[0] == "3" and reg.table("cables", "S1").route[0] == "roof"


def test_somebody_who_saves_in_the_middle_loses_nothing(reg, tmp_path, monkeypatch):
    """Another's commit between two of those that are brought back stays."""
    from fibrebook.register.copies import bring_back as module

    copy = reg.take_away(tmp_path / "van")
    for n in range(3):
        put(copy, "cables", "cd", f"step {n}", site="S1", cable="C1", notes=str(n))
    real, calls = module.commit, []

    def between(store, proposal):
        calls.append(1)
        put(open(reg.where), "cables", "gh", site="S1", cable="C1", route=f"roof {len(calls)}")
        return real(store, proposal)

    monkeypatch.setattr(module, "commit", between)
    reg.bring_back(tmp_path / "van", "ab", "back")
    cable = reg.table("cables", "S1").iloc[0]
    assert cable.notes == "2" and cable.route == "roof 3" and cable.length_m == 80


# --- edit scripts by chance ------------------------------------------------------------------------------------------

CELLS = ("location", "notes")
step = st.one_of(
    st.tuples(st.just("set"), st.sampled_from("ABCD"), st.sampled_from(CELLS), st.sampled_from([None, "1", "2"])),
    st.tuples(st.just("remove"), st.sampled_from("ABCD"), st.none(), st.none()),
    st.tuples(st.just("add"), st.sampled_from("ABCD"), st.just("notes"), st.sampled_from([None, "1"])),
)
script = st.lists(step, max_size=4)
CHANCE = settings(
    max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)


@pytest.fixture(scope="module")
def start(tmp_path_factory):
    """A register with three enclosures and two locations to stand in."""
    reg = create(tmp_path_factory.mktemp("chance") / "reg")
    with reg.edit("ab", "start") as edit:
        edit.put("sites", [{"site": "S"}])
        edit.put("locations", [{"site": "S", "location": n} for n in ("1", "2")])
        edit.put("enclosures", [{"site": "S", "enclosure": e, "location": "1"} for e in "ABC"])
    return Path(reg.where)


def follow(reg, steps):
    """Make one commit a step, leaving out what cannot be."""
    for what, key, column, value in steps:
        there = key in reg.table("enclosures", "S").enclosure.tolist()
        if (what == "add") == there:
            continue
        with reg.edit("ab", f"{what} {key}") as edit:
            if what == "remove":
                edit.remove("enclosures", ("S", key))
            else:
                edit.put("enclosures", [{"site": "S", "enclosure": key, column: value}])


def state(reg):
    """Return the enclosures as plain rows."""
    return sorted(map(repr, reg.tables()["enclosures"].to_pylist()))


_count = iter(range(10**9))


def fresh(start):
    """Return two registers that are copies of one."""
    at = start.parent / f"n{next(_count)}"
    for name in ("a", "b"):
        shutil.copytree(start, at / name)
    return open(at / "a"), open(at / "b")


@CHANCE
@given(script, script)
def test_bringing_back_is_the_whole_merge_whichever_side_goes_first(start, mine, theirs):
    """The result is the same from either side, merging twice changes nothing, and equals one script after another."""
    a, b = fresh(start)
    follow(a, theirs)
    follow(b, mine)
    try:
        a.bring_back(b.where, "ab", "back")
    except errors.ConflictError:
        with pytest.raises(errors.ConflictError):
            c, d = fresh(start)
            follow(c, theirs)
            follow(d, mine)
            d.bring_back(c.where, "ab", "back")
        return
    again = a.commit
    assert a.bring_back(b.where, "ab", "again") is None and a.commit == again
    c, d = fresh(start)
    follow(c, theirs)
    follow(d, mine)
    d.bring_back(c.where, "ab", "from the other side")
    assert state(d) == state(a)
    assert len(a.verify()) == 0
    e, _ = fresh(start)
    touched = [{(k, c) for w, k, c, _ in s} | {(k, "") for w, k, _, _ in s if w != "set"} for s in (mine, theirs)]
    if {k for k, _ in touched[0]}.isdisjoint({k for k, _ in touched[1]}):
        follow(e, theirs)
        follow(e, mine)
        assert state(e) == state(a)
    shutil.rmtree(Path(a.where).parent)


@CHANCE
@given(script, script, st.sampled_from(["mine", "theirs"]))
def test_one_choice_for_all_conflicts_is_the_same_as_merging_the_ends(start, mine, theirs, side):
    """However many commits the copy has, the end is the merge of the two ends with that choice, and as was shown."""
    from fibrebook.records import KINDS
    from fibrebook.register.row_files.merge import merge

    a, b = fresh(start)
    base = a.tables()["enclosures"]
    follow(a, theirs)
    follow(b, mine)
    kind = KINDS["enclosures"]
    ends = (base, b.tables()["enclosures"], a.tables()["enclosures"])
    _, conflicts = merge(*ends, kind)
    expected, _ = merge(*ends, kind, {(c.table, c.key, c.column): side for c in conflicts})
    before, shown = a.commit, a.bring_back_preview(b.where, side).changes
    a.bring_back(b.where, "ab", "back", choices=side)
    cells = ["table", "key", "column", "before", "after", "op"]
    assert sorted(map(repr, shown[cells].values)) == sorted(map(repr, a.differences(before)[cells].values))
    assert state(a) == sorted(map(repr, expected.to_pylist()))
    assert a.bring_back(b.where, "ab", "again") is None
    shutil.rmtree(Path(a.where).parent)


def test_photos_go_along_and_come_back(reg, tmp_path):
    """A photo kept by its digest goes with a whole copy, a new one comes back; a spoilt one does not."""
    from fibrebook.register.store.state import digest

    put_photo = lambda r, data: r._store.blobs.create(f"photos/{digest(data)}.jpg", data)  # noqa: E731
    put_photo(reg, b"a tray")
    copy = reg.take_away(tmp_path / "van")
    assert copy._store.blobs.list("photos") == reg._store.blobs.list("photos")
    put_photo(copy, b"a panel")
    copy._store.blobs.create("photos/" + "0" * 64 + ".jpg", b"spoilt")
    assert copy.verify().file.tolist() == ["photos/" + "0" * 64 + ".jpg"]
    put(copy, "sites", site="S1", notes="seen")
    reg.bring_back(tmp_path / "van", "ab", "back")
    assert len(reg._store.blobs.list("photos")) == 2 and len(reg.verify()) == 0
