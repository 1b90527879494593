"""A register that somebody else prepared: a right answer or an error in plain words, in bounded time and memory.

Nothing outside its folder is read or written, and what `verify` calls sound can be read and saved.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import foreign_folders as foreign
import pyarrow as pa
import pytest

import fibrebook
from fibrebook import errors
from fibrebook.register.photos import photo

CHILD = Path(__file__).parent / "foreign_child.py"
MEGABYTES = 1_000  # that a child may take beside what it needs for a sound register


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """A sound register as path -> bytes."""
    return foreign.template(tmp_path_factory.mktemp("foreign"))


def reads(folder):
    """Read every table, the history and the log."""
    reg = fibrebook.open(folder)
    return [t.num_rows for t in reg.tables().values()], reg.history(), reg.log()


def in_a_child(files, tmp_path, code, megabytes=MEGABYTES):
    """Run code on the register at `where` in a process that gets so much more memory than it began with."""
    where = foreign.lay_down(files, tmp_path / "reg")
    start = f"import foreign_child as child, fibrebook; from fibrebook import errors; where = {str(where)!r}"
    bounded = f"child.bound({megabytes})"
    paths = os.pathsep.join([str(CHILD.parent), str(Path(fibrebook.__file__).parents[1])])
    done = subprocess.run(
        [sys.executable, "-c", "\n".join([start, bounded, code])], capture_output=True, text=True, timeout=60,
        env={**os.environ, "PYTHONPATH": paths},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-1500:]
    return done.stdout


TOLD = """
try:
    reg = fibrebook.open(where)
    print([t.num_rows for t in reg.tables().values()], len(reg.table("cables")))
    print("answered")
except errors.FibrebookError as error:
    print("told:", error)
"""


# --- what expands -----------------------------------------------------------------------------------------------------


def test_a_dictionary_coded_segment_that_asks_for_21_gigabytes(files, tmp_path):
    """26 KB with one long text to which a million rows refer: refused by its decoded size, within bounded memory."""
    bomb = foreign.coded_bomb(1_000_000, 21_000)
    assert len(bomb) < 30_000
    told = in_a_child(foreign.exchanged(files, "cables", bomb, 1_000_000), tmp_path, TOLD)
    assert "written out" in told and "cables" in told


def test_changes_that_ask_for_gigabytes(files, tmp_path):
    """The same in the changes of a commit: the history says so, and the tables are read all the same."""
    rows = 1_000_000
    names = ("table", "site", "key", "column", "before", "after", "op")
    bomb = foreign.parquet(pa.table({n: foreign.one_text(rows, 20_000) for n in names}), row_group_size=rows)
    spoilt = foreign.exchanged(files, "changes", bomb, rows)
    code = TOLD.replace("reg.table(", "reg.history('cables') if True else reg.table(")
    assert "written out" in in_a_child(spoilt, tmp_path, code)


def test_a_page_that_unpacks_without_end(files, tmp_path):
    """Pages whose headers say that they unpack to 1.2 GB are refused before any is unpacked."""
    bomb = foreign.packed_bomb()
    assert len(bomb) < 1_000_000
    told = in_a_child(foreign.exchanged(files, "cables", bomb, 2), tmp_path, TOLD)
    assert "would expand to" in told


def test_counts_that_are_not_there(files, tmp_path):
    """A footer that says 10**18 rows asks for no memory for them, and verify says that the table cannot be read."""
    import pyarrow.parquet as pq

    data = foreign.parquet(foreign.cables(3))
    length = int.from_bytes(data[-8:-4], "little")
    footer = data[-8 - length : -8]
    places = [i for i in range(len(footer)) if footer[i] == 6]  # 3 rows, as zigzag
    seen = 0
    for at in places:
        grown = footer[:at] + b"\xfe\xff\xff\xff\xff\xff\x7f" + footer[at + 1 :]
        made = data[: -8 - length] + grown + len(grown).to_bytes(4, "little") + b"PAR1"
        try:
            rows = pq.ParquetFile(pa.BufferReader(made)).metadata.num_rows
        except (OSError, ValueError):
            continue
        if rows < 10**9:
            continue
        seen += 1
        spoilt = foreign.exchanged(files, "cables", made, rows)
        folder = foreign.lay_down(spoilt, tmp_path / str(at))
        with pytest.raises(errors.DamagedError, match="rows"):
            fibrebook.open(folder).tables()
        assert "rows" in fibrebook.open(folder).verify()["what"][0]
    assert seen


@pytest.mark.parametrize("rows", [0, 2, 10**18, -1])
def test_a_commit_that_says_other_rows_than_its_file_has(files, tmp_path, rows):
    """What a commit says of a file's rows is compared with the file, for one site as for all; verify says it too."""
    segment = next(p for p in files if p.startswith("tables/cables/"))
    folder = foreign.lay_down(foreign.exchanged(files, "cables", files[segment], rows), tmp_path / "reg")
    for site in (None, "S1"):
        with pytest.raises(errors.DamagedError, match=r"rows instead of|lacks parts"):
            fibrebook.open(folder).table("cables", site)
    assert not fibrebook.open(folder).verify().empty


def test_what_this_package_writes_is_never_refused(tmp_path):
    """Every sort of table that is written passes the measuring: no rows, one row, many, all columns blank or full."""
    from fibrebook.register.row_files.bounded_parquet import measured_rows, read_parquet
    from fibrebook.register.row_files.written import to_parquet

    texts = pa.array([None, "", "x" * 32_000, "é" * 200] * 30_000)
    sorts = {
        "t": texts, "i": pa.array(range(120_000), pa.int32()), "n": pa.array([None] * 120_000, pa.float64()),
        "d": pa.array(range(120_000), pa.int32()).cast(pa.date32()), "b": pa.array([True, None] * 60_000),
        "different": pa.array([f"{i:08x}" * 4 for i in range(120_000)]),
    }  # fmt: skip
    for count in (0, 1, 20_000, 20_001):
        table = pa.table(sorts).slice(0, count)
        data = to_parquet(table)
        assert measured_rows(data, "x") == count
        read = read_parquet(data, "x")
        assert [c.to_pylist() for c in read.columns] == [c.to_pylist() for c in table.columns]


# --- what is no file --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("part", ["register.json", "commits/00000002.json", "tables/cables/", "changes/00000003-",
                                  "pending/", "photos/"])  # fmt: skip
@pytest.mark.parametrize("sort", ["pipe", "device", "link", "folder", "terabyte"])
def test_what_is_no_file_is_told_at_once(files, tmp_path, part, sort):
    """A pipe hangs nobody, an endless device fills no memory, no link is followed: verify names the file."""
    folder = foreign.lay_down(files, tmp_path / "reg")
    path = next(p for p in files if p.startswith(part))
    victim, copy = folder / path, tmp_path / "copy"
    victim.rename(copy)
    if sort == "pipe":
        os.mkfifo(victim)
    elif sort == "folder":
        victim.mkdir()
    elif sort == "terabyte":
        with victim.open("wb") as file:
            file.truncate(10**12)
    else:
        victim.symlink_to("/dev/zero" if sort == "device" else copy)
    asked = [lambda: reads(folder), lambda: fibrebook.open(folder).pending(),
             lambda: photo(fibrebook.open(folder), "".join(p[7:] for p in files if p.startswith("photos/")))]  # fmt: skip
    told = []
    for ask in asked:
        try:
            ask()
        except errors.DamagedError as error:
            told.append(str(error))
    assert any(path in t or Path(path).stem in t for t in told), told
    if part != "register.json":
        assert path in set(fibrebook.open(folder).verify()["file"]) or sort == "folder"


@pytest.mark.parametrize("part", ["commits", "tables", "tables/cables", "changes", "pending", "photos"])
def test_linked_folders_are_not_followed(files, tmp_path, part):
    """A folder of a register that is a link is refused in words to read, to save and to delete; nothing goes through."""
    folder = foreign.lay_down(files, tmp_path / "reg")
    (folder / part).rename(tmp_path / "elsewhere")
    (folder / part).symlink_to(tmp_path / "elsewhere")
    before = {p: p.read_bytes() for p in (tmp_path / "elsewhere").rglob("*") if p.is_file()}
    told = []

    def attempt(what):
        try:
            what(fibrebook.open(folder))
        except errors.FibrebookError as error:
            told.append(str(error))

    def save(reg):
        with reg.edit("x", "x") as edit:
            edit.put("cables", [{"site": "S1", "cable": "C1", "length_m": 5}])

    for what in (lambda r: reads(folder), lambda r: r.pending(), save, lambda r: r.tidy(0, "x", "x"),
                 lambda r: r.redact("x", "x", site="S1"), lambda r: r.pending_drop(r.pending()["name"][0]),
                 lambda r: fibrebook.register.photos.keep_photo(r, foreign.PICTURE),
                 lambda r: r.mend("x", "x")):  # fmt: skip
        attempt(what)
    assert any("link" in t for t in told)
    after = {p: p.read_bytes() for p in (tmp_path / "elsewhere").rglob("*") if p.is_file()}
    assert after == before
    with_link = folder if part != "commits" else None
    if with_link is not None:
        assert fibrebook.open(folder).verify()["what"].str.contains("link").any()


def test_a_register_that_itself_is_reached_by_a_link(files, tmp_path):
    """Whoever opens a register may reach it by a link of their own."""
    folder = foreign.lay_down(files, tmp_path / "reg")
    (tmp_path / "ours").symlink_to(folder)
    assert reads(tmp_path / "ours")[0] == reads(folder)[0]


# --- verify tries what reading and saving would ------------------------------------------------------------------------

UNUSABLE = {
    "format 0": lambda c: {**c, "format": 0},
    "rows beyond counting": lambda c: _each(c, lambda ref: ref.update(rows=10**18)),
    "a segment without number": lambda c: _renamed(c, "abc"),
    "a segment of too many digits": lambda c: _renamed(c, "9" * 12),
    "a site in the firm's segment": lambda c: {**c, "sites": dict.fromkeys(c["sites"], "firm")},
    "a site without its segment": lambda c: {**c, "sites": {s: n for s, n in c["sites"].items() if s != "S1"}},
    "a table whose name is a path": lambda c: {**c, "segments": {**c["segments"], "../x": c["segments"]["cables"]}},
}


def _each(commit, change):
    for table in commit["segments"].values():
        for ref in table.values():
            change(ref)
    return commit


def _renamed(commit, name):
    segments = {t: {name if s == "0001" else s: r for s, r in f.items()} for t, f in commit["segments"].items()}
    return {**commit, "segments": segments, "sites": dict.fromkeys(commit["sites"], name)}


@pytest.mark.parametrize("name", UNUSABLE)
def test_verify_tries_what_reading_and_saving_would(files, tmp_path, name):
    """Digests fit, yet the register cannot be read or saved, or rows are lost from sight: verify says so."""
    folder = foreign.lay_down(foreign.said(files, 1, UNUSABLE[name]), tmp_path / "reg")
    found = fibrebook.open(folder).verify()
    assert not found.empty and (found["what"] != "").all()


def test_verify_is_clean_on_a_sound_register(files, tmp_path):
    """The trial finds nothing in what this package wrote, at any commit."""
    assert fibrebook.open(foreign.lay_down(files, tmp_path / "reg")).verify().empty


def test_two_rows_of_one_key_are_found(files, tmp_path):
    """A segment with two rows of one key, which no save writes, is named by verify."""
    data = foreign.parquet(foreign.cables(2, cable=["C1", "C1"]))
    folder = foreign.lay_down(foreign.exchanged(files, "cables", data, 2), tmp_path / "reg")
    assert "two rows of one key" in fibrebook.open(folder).verify()["what"][0]


def test_a_commit_far_beyond_the_others_makes_no_endless_list(files, tmp_path):
    """A commit numbered 99999999 is told as one damage, at once."""
    far = foreign.said(files, 3, lambda c: {**c, "commit": 99_999_999})
    far["commits/99999999.json"] = far.pop("commits/00000003.json")
    found = fibrebook.open(foreign.lay_down(far, tmp_path / "reg")).verify()
    assert len(found) < 10 and found["what"].str.contains("99,999,99. commits|missing").any()


# --- a handle that met damage ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("what", ["spoilt", "gone", "another's"])
@pytest.mark.parametrize("number", [1, 2, 3])
def test_a_handle_that_met_damage_reads_again_once_it_is_mended(files, tmp_path, what, number):
    """After the file is put back, the handle that met the bad one answers as before; it need not be opened again."""
    folder = foreign.lay_down(files, tmp_path / "reg")
    path = folder / f"commits/{number:08d}.json"
    good = path.read_bytes()
    reg = fibrebook.open(folder)
    if what == "gone":
        path.unlink()
    elif what == "spoilt":
        path.write_bytes(good[:-9] + b"x" + good[-8:])
    else:
        path.write_bytes(foreign.with_digest({**foreign.digest_checked(good), "why": "another's"}))
    for _ in range(2):
        try:
            told = len(reg.history())
            assert told or (number, what) == (3, "gone")
        except errors.DamagedError:
            pass
    path.write_bytes(good)
    assert len(reg.history()) and reg.commit == 3 and reg.table("cables")["length_m"][0] == 120


# --- the generator ----------------------------------------------------------------------------------------------------


def asked_in_children(files, tmp_path, seeds, megabytes=MEGABYTES, seconds=10.0):
    """Ask everything of spoilt registers in bounded processes; return what went wrong, by seed."""
    where = foreign.lay_down(files, tmp_path / "template")
    wrong, left = [], [str(s) for s in seeds]
    paths = os.pathsep.join([str(CHILD.parent), str(Path(fibrebook.__file__).parents[1])])
    while left:
        child = subprocess.run(
            [sys.executable, str(CHILD), str(where), str(megabytes), str(seconds), *left], capture_output=True,
            text=True, env={**os.environ, "PYTHONPATH": paths},
        )  # fmt: skip
        lines = child.stdout.splitlines()
        done = [json.loads(line) for line in lines if line.startswith("{")]
        wrong += [(d["seed"], d["done"], d["faults"]) for d in done if d["faults"]]
        left = left[len(done) :]
        if child.returncode:
            wrong.append((left[:1], lines[-1:], child.stderr[-500:]))
            left = left[1:]
    return wrong


def test_registers_spoilt_by_seed(files, tmp_path):
    """Whatever is spoilt, every question gets a right answer or an error in plain words, within time and memory."""
    assert asked_in_children(files, tmp_path, range(12, 20)) == []


@pytest.mark.long
def test_hundreds_of_registers_spoilt_by_seed(files, tmp_path):
    """The same for 600 of them."""
    assert asked_in_children(files, tmp_path, range(1_000, 1_600)) == []
