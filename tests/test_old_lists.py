"""Lists as firms keep them, read by their layouts: the facts planted in each are found in the register."""

from __future__ import annotations

from pathlib import Path

import pytest

import fibrebook

HERE = Path(__file__).parent
LISTS = {
    "core_schedule.xlsx": HERE.parent / "data" / "old_lists",
    "panel_ports.xlsx": HERE.parent / "data" / "old_lists",
    "all_cores.csv": HERE.parent / "data" / "old_lists",
    "two_ends.ods": HERE / "old_lists",
}


@pytest.fixture(scope="module")
def reg(tmp_path_factory):
    """All four lists brought into one empty register."""
    made = fibrebook.create(tmp_path_factory.mktemp("old") / "reg")
    made.reports = {name: bring(made, name) for name in LISTS}
    return made


def bring(reg, name):
    """Bring one list in by the layout beside it."""
    path = LISTS[name] / name
    return fibrebook.bring_in(reg, path, by="ab", why="old list", layout=path.with_suffix(".toml"))


def made_off(reg, site, cable):
    """Return core -> where it is made off: enclosure, port, position."""
    rows = reg.table("terminations", site)
    rows = rows[rows["cable"] == cable]
    found: dict[int, list[tuple]] = {}
    for row in rows.itertuples():
        found.setdefault(int(row.core), []).append((row.enclosure, row.port, row.position))
    return found


def cable(reg, site, name):
    """Return one cable's row."""
    rows = reg.table("cables", site)
    return rows[rows["cable"] == name].iloc[0]


@pytest.mark.parametrize("name", list(LISTS))
def test_a_list_brought_in_again_changes_nothing(reg, name):
    """The same list twice is no change."""
    before = reg.commit
    report = bring(reg, name)
    assert report.commit is None
    assert set(report.counts()) <= {"unchanged", "skipped"}
    assert reg.commit == before


@pytest.mark.parametrize(("name", "lines"), [("core_schedule.xlsx", 44), ("all_cores.csv", 92), ("two_ends.ods", 36)])
def test_every_line_of_a_list_is_a_core(reg, name, lines):
    """As many cores as the list has lines (planted facts of data/README.md)."""
    report = reg.reports[name]
    assert report.rows[report.rows["table"] == "cores"].shape[0] == lines
    sites = set(report.rows[report.rows["table"] == "cores"]["key"].map(lambda k: k[0]))
    assert reg.cores(sorted(sites)).num_rows == lines


@pytest.mark.parametrize(
    ("name", "both", "one", "none"),
    [("C1", range(1, 17), range(17, 21), range(21, 25)), ("C2", range(1, 9), range(9, 13), ()), ("C3", range(1, 5), range(5, 9), ())],
)  # fmt: skip
def test_core_schedule_made_off_as_planted(reg, name, both, one, none):
    """Both ends, end A only, neither."""
    ends = made_off(reg, "Ferry terminal", name)
    assert {c for c, e in ends.items() if len(e) == 2} == set(both)
    assert {c for c, e in ends.items() if len(e) == 1} == set(one)
    assert not set(none) & set(ends)


def test_core_schedule_cables_and_the_core_without_light(reg):
    """Counts, classes, tubes; C1 core 11 faulty at 212 m."""
    found = [(c, cable(reg, "Ferry terminal", c)) for c in ("C1", "C2", "C3")]
    assert [(n, int(c.core_count), c.fibre_class) for n, c in found] == [
        ("C1", 24, "OS2"),
        ("C2", 12, "OM3"),
        ("C3", 8, "OS2"),
    ]
    assert int(found[0][1].cores_per_tube) == 12
    cores = reg.table("cores", "Ferry terminal")
    bad = cores[cores["condition"] == "faulty"]
    assert [(r.cable, r.core, r.fault_m) for r in bad.itertuples()] == [("C1", 11, 212.0)]


def test_core_schedule_has_no_false_colour_and_names_the_legend(reg):
    """Three spellings of the same colours contradict no number; the sheet that is no schedule is told."""
    report = reg.reports["core_schedule.xlsx"]
    assert [n for n in report.notes if "colour says" in n] == []
    assert report.rows[report.rows["fate"] == "skipped"]["sheet"].tolist() == ["Legend"]


def test_panel_ports_made_off_as_planted(reg):
    """K1 by both panels' own lists, crossed at 9 and 10; K2 and K3 on to wall boxes that have no list."""
    k1 = made_off(reg, "Cold store", "K1")
    assert {c for c, e in k1.items() if len(e) == 2} == set(range(1, 13))
    assert {c for c, e in k1.items() if len(e) == 1} == {13, 14, 15, 16}
    assert ("P3", "9", "") in k1[10] and ("P3", "10", "") in k1[9]
    k2 = made_off(reg, "Cold store", "K2")
    assert k2[1] == [("P2", "1", "A"), ("WB1", "1", "A")]
    assert {c for c, e in k2.items() if len(e) == 2} == set(range(1, 7))
    assert {c for c, e in made_off(reg, "Cold store", "K3").items() if len(e) == 2} == {1, 2, 3, 4}
    ports = reg.table("ports", "Cold store")
    assert len(ports[ports["enclosure"].isin(["P1", "P2", "P3", "P4"])]) == 16 + 12 + 12 + 12


def test_panel_ports_switch_ports_as_planted(reg):
    """Each switch port of the list has its fibres; the single-fibre optic is one position both ways."""
    rows = reg.table("interfaces", "Cold store")
    found = {(r.equipment, r.interface): set() for r in rows.itertuples()}
    for r in rows.itertuples():
        found[r.equipment, r.interface].add(r.position)
    two = {"Tx", "Rx"}
    assert found == {
        ("SW1", "24"): two, ("SW1", "25"): two, ("SW1", "27"): two, ("SW2", "1"): two, ("SW2", "2"): two,
        ("SW2", "SFP2"): {"TxRx"},
    }  # fmt: skip


@pytest.mark.parametrize(
    ("site", "name", "count", "fibre_class", "length_m"),
    [
        ("Sorting office", "C1", 24, "OS2", 212.5), ("Sorting office", "C2", 12, "OS2", 64.0),
        ("Sawmill", "C1", 12, "OM1", 148.0), ("Sawmill", "C2", 12, "OS2", 1031.7),
        ("Ice rink", "IR1", 24, "OM3", 89.4), ("Ice rink", "IR2", 8, "OM3", None),
    ],
)  # fmt: skip
def test_flat_list_cables_however_they_are_spelt(reg, site, name, count, fibre_class, length_m):
    """Two or three spellings of sites, cables and fibre types are one; decimal commas, one point for thousands."""
    found = cable(reg, site, name)
    assert (int(found.core_count), found.fibre_class) == (count, fibre_class)
    assert found.length_m == length_m or (length_m is None and found.length_m != found.length_m)


def test_flat_list_makes_no_fourth_site(reg):
    """Every spelling of a site found its site."""
    assert set(reg.sites()) == {"Ferry terminal", "Cold store", "Sorting office", "Sawmill", "Ice rink", "Waterworks"}


def test_flat_list_bad_and_reserved_cores(reg):
    """What remarks and services say: faults, one with its distance, and a reservation."""
    cores = reg.table("cores", ["Sorting office", "Sawmill", "Ice rink"])
    bad = cores[cores["condition"] == "faulty"]
    assert {(r.site, r.cable, r.core) for r in bad.itertuples()} == {("Sorting office", "C1", 15), ("Sawmill", "C1", 8)}
    assert bad["fault_m"].dropna().tolist() == [88.0]
    kept = cores[cores["reserved_for"].notna()]
    assert [(r.site, r.cable, r.core, r.reserved_for) for r in kept.itertuples()] == [
        ("Sorting office", "C2", 10, "lockers")
    ]


def test_flat_list_core_11_has_a_port_at_one_end(reg):
    """Planted: core 11 of cables with 11 or more made off is made off at A only."""
    for site, name in (("Sorting office", "C1"), ("Sorting office", "C2"), ("Sawmill", "C1")):
        assert len(made_off(reg, site, name)[11]) == 1


def test_list_of_two_ends_as_planted(reg):
    """The layout written from the reference page alone: W1 to P2, W2 on to WB1, losses as tests."""
    w1, w2 = (made_off(reg, "Waterworks", c) for c in ("W1", "W2"))
    assert {c for c, e in w1.items() if len(e) == 2} == set(range(1, 21))
    assert {c for c, e in w1.items() if e == [("P1", str((c + 1) // 2), "AB"[(c + 1) % 2])]} == {21, 22, 23, 24}
    assert {c for c, e in w2.items() if len(e) == 2} == set(range(1, 7))
    assert w2[1] == [("P2", "13", "A"), ("WB1", "1", "A")]
    tests = reg.table("tests", "Waterworks")
    assert len(tests) == 26 and tests["loss_db"].between(0.31, 0.59).all()
    assert set(reg.table("cables", "Waterworks")["colour_code"]) == {"IEC 60304"}


def test_list_of_two_ends_notes_the_colour_that_the_code_does_not_have(reg):
    """IEC 60304: a black core bears no black ring, 22 is natural; the list's word is noted, nothing is refused."""
    assert reg.reports["two_ends.ods"].notes == (
        "sheet 'Cores', row 26, column C (core_colour): colour says core 10 (black), number says 22 (natural)",
    )


@pytest.mark.parametrize("text", ["=see drawing", "+2 spare", "@workshop", "=see drawing 4", "-3 dB, try again"])
def test_text_that_looks_like_a_formula_is_text(reg, text):
    """Remarks come in letter for letter."""
    notes = reg.table("cores")["notes"].dropna()
    assert notes.map(lambda n: text in n).any()


def test_answers_stand_on_the_old_lists(reg):
    """The register of old lists answers at once: which core goes to which port."""
    rows = fibrebook.cross_reference(reg, "Cold store")
    one = rows[(rows["cable"] == "K1") & (rows["core"] == 10)].iloc[0]
    assert (one["a_enclosure"], one["a_port"], one["b_enclosure"], one["b_port"]) == ("P1", "10", "P3", "9")
