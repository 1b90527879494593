"""Registers that somebody with bad intent has prepared: made from a sound one by a seed, digests fitted again.

`template` makes the sound one; `spoil` lays a spoilt one down; `written_by_hand` names single tricks for tests.
"""

from __future__ import annotations

import contextlib
import functools
import io
import json
import os
import random
import struct
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
from hostile import changed, places
from small_picture import PICTURE

import fibrebook
from fibrebook.register.photos import keep_photo
from fibrebook.register.store.state import digest, digest_checked, with_digest

Files = dict[str, bytes]


def template(root: Path) -> Files:
    """Return a sound small register as path -> bytes: three commits, a photo, a kept edit."""
    reg = fibrebook.create(root / "template", name="A firm")
    with reg.edit("ab", "set up") as edit:
        edit.put("sites", [{"site": s, "name": s} for s in ("S1", "S2")])
        edit.put("enclosures", [{"site": "S1", "enclosure": e} for e in ("P1", "P2")])
        edit.put("cables", [{"site": "S1", "cable": "C1", "a_enclosure": "P1", "b_enclosure": "P2", "core_count": 12,
                             "fibre_class": "OS2", "length_m": 100}])  # fmt: skip
        edit.put("ports", [{"site": "S1", "enclosure": "P1", "port": str(n), "connector": "LC"} for n in (1, 2)])
        edit.put("terminations", [{"site": "S1", "enclosure": "P1", "port": "1", "cable": "C1", "core": 1}])
    with reg.edit("cd", "photo, a code of our own") as edit:
        edit.put("photos", [{"site": "S1", "photo": "1", "file": keep_photo(reg, PICTURE)}])
        edit.put("colour_codes", [{"colour_code": "ours", "position": 1, "colour": "blue"}])
    with reg.edit("ab", "longer") as edit:
        edit.put("cables", [{"site": "S1", "cable": "C1", "length_m": 120}])
    late = reg.edit("ef", "late", base=2)
    late.put("cables", [{"site": "S1", "cable": "C1", "length_m": 130}])
    with contextlib.suppress(fibrebook.ConflictError):
        late.finish()
    folder = Path(reg.where)
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def commits(files: Files) -> list[str]:
    """Return the paths of the commit files, in order."""
    return sorted(p for p in files if p.startswith("commits/"))


def fitted(files: Files) -> Files:
    """Return the files with every commit's digests made to fit."""
    out = dict(files)
    before = out["register.json"]
    for path in commits(out):
        content = digest_checked(out[path]) or loose(out[path])
        if isinstance(content, dict):
            out[path] = with_digest({**content, "previous_digest": digest(before)})
        before = out[path]
    return out


def loose(data: bytes) -> object:
    """Return what a JSON text says, None where it is none."""
    try:
        return json.loads(data)
    except (ValueError, RecursionError):
        return None


def said(files: Files, number: int, change) -> Files:
    """Return the files with what one commit says changed, digests fitted."""
    path = f"commits/{number:08d}.json"
    content = digest_checked(files[path])
    return fitted({**files, path: with_digest(change(json.loads(json.dumps(content))))})


def exchanged(files: Files, table: str, data: bytes, rows: int | None = None) -> Files:
    """Return the files with other bytes in the place of a table's segment ("changes": of the newest changes)."""
    out = dict(files)
    for path in commits(files):
        content = digest_checked(out[path])
        refs = [content["changes"]] if table == "changes" else list(content["segments"].get(table, {}).values())
        for ref in refs:
            out[ref["file"]] = data
            ref.update(sha256=digest(data), bytes=len(data))
            if rows is not None:
                ref["rows"] = rows
        out[path] = with_digest(content)
    return fitted(out)


def lay_down(files: Files, folder: Path) -> Path:
    """Write the files into a new folder; return it."""
    for path, data in files.items():
        target = folder / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)
    return folder


# --- hostile Parquet --------------------------------------------------------------------------------------------------


def parquet(table: pa.Table, **more) -> bytes:
    """Return a table as Parquet."""
    sink = io.BytesIO()
    pq.write_table(table, sink, **{"compression": "zstd", "store_schema": False, **more})
    return sink.getvalue()


def cables(count: int = 1, **more) -> pa.Table:
    """Return rows of `cables`, some of their columns exchanged."""
    plain = {"site": ["S1"] * count, "cable": [f"C{i + 1}" for i in range(count)],
             "core_count": pa.array([12] * count, pa.int32())}  # fmt: skip
    return pa.table({**plain, **more})


def one_text(rows: int, length: int) -> pa.Array:
    """Return one long text, referred to by every row: small as a dictionary, enormous when written out."""
    return pa.DictionaryArray.from_arrays(pa.array([0] * rows, pa.int32()), ["x" * length])


def coded_bomb(rows: int = 1_000_000, length: int = 21_000) -> bytes:
    """Return some 26 KB that ask for 21 GB once every text is written out."""
    notes = one_text(rows, length)
    return parquet(
        pa.table({"site": one_text(rows, 2), "cable": one_text(rows, 2), "core_count": pa.array([1] * rows, pa.int32()),
                  "notes": notes}), row_group_size=rows, dictionary_pagesize_limit=10**9,
    )  # fmt: skip


@functools.cache
def packed_bomb() -> bytes:
    """Return pages of zeros, 20 of them of 60 MB each once unpacked."""
    text = pa.array(["\0" * 30_000_000] * 2)
    keys = {"site": ["S1"] * 2, "cable": ["C1", "C2"]}
    return parquet(pa.table({**keys, **{f"notes{i}": text for i in range(20)}}), use_dictionary=False,
                   data_page_size=100_000_000, write_statistics=False)  # fmt: skip


def patched(data: bytes, chance: random.Random) -> bytes:
    """Return a Parquet file with some bytes of its pages' headers or footer set to large numbers."""
    out = bytearray(data)
    footer = struct.unpack("<I", data[-8:-4])[0]
    for _ in range(chance.randint(1, 6)):
        low, high = (len(out) - 8 - footer, len(out) - 8) if chance.random() < 0.6 else (4, len(out) - 8 - footer)
        at = chance.randrange(low, max(high, low + 1))
        out[at : at + chance.randint(0, 2)] = bytes(chance.choice([0xFF, 0x7F, 0x80, 0, chance.randrange(256)])
                                                    for _ in range(chance.randint(1, 5)))  # fmt: skip
    if chance.random() < 0.5:
        out[-8:-4] = struct.pack("<I", footer + len(out) - len(data))
    return bytes(out)


def hostile_parquet(chance: random.Random, good: bytes) -> bytes:
    """Return bytes that pass for a segment and are none."""
    rows = chance.choice([1, 3, 1000])
    return chance.choice([
        lambda: patched(good, chance), lambda: patched(good, chance), lambda: patched(good, chance),
        lambda: coded_bomb(chance.choice([1_000, 300_000, 4_000_000]), chance.choice([100, 30_000, 3_000_000])),
        packed_bomb,
        lambda: parquet(cables(rows, core_count=pa.array([10**9] * rows, pa.int32()))),
        lambda: parquet(cables(rows, core_count=pa.array([-5] * rows, pa.int32()))),
        lambda: parquet(cables(rows, length_m=[chance.choice([float("nan"), float("inf"), 1e300])] * rows)),
        lambda: parquet(cables(rows, cable=["C1"] * rows)),
        lambda: parquet(cables(rows, site=[chance.choice(["S9", "", "S2", "\x1b[2J", "x" * 100_000])] * rows)),
        lambda: parquet(cables(rows, notes=["\x1b]0;x\x07\u202e" * 9] * rows)),
        lambda: parquet(cables(rows, tube_sizes=[chance.choice(["9" * 4000, "1+" * 5000, "-1", "\0"])] * rows)),
        lambda: parquet(cables(rows, colour_code=["x" * 30_000] * rows)),
        lambda: parquet(cables(rows, nested=[[1, 2]] * rows)), lambda: parquet(pa.table({"x": [1]})),
        lambda: parquet(cables(rows), use_dictionary=False, column_encoding="DELTA_BYTE_ARRAY")
        if rows < 0 else parquet(cables(rows).select(["site", "cable"]), use_dictionary=False,
                                 column_encoding="DELTA_BYTE_ARRAY"),
        lambda: parquet(cables(rows), row_group_size=1), lambda: parquet(pa.table({})),
        lambda: parquet(cables(rows).cast(pa.schema([("site", pa.large_string()), ("cable", pa.binary()),
                                                     ("core_count", pa.int64())]))),
        lambda: parquet(pa.table({f"c{i}": [1] for i in range(2_000)})),
        lambda: good[: chance.randrange(len(good))], lambda: chance.randbytes(200), lambda: b"",
    ])()  # fmt: skip


# --- the spoiling -----------------------------------------------------------------------------------------------------

LEAVES = [None, True, -1, 0, 1, 10**18, 10**30, 2**62, 1e308, "", "x", "../../outside/secret", "/etc/passwd", "abc",
          "0001", "firm", "S1", "\x1b[31m", "\u202e", "x" * 100_000, [], {}, [[]], {"a": 1}, "2026-01-01T00:00:00Z",
          "9999-12-31T23:59:59Z", "0001-01-01T00:00:00+14:00", "99999999", "-1", float("nan")]  # fmt: skip


def deep(levels: int) -> bytes:
    """Return JSON nested beyond reason."""
    return b"[" * levels + b"]" * levels


def spoil(files: Files, folder: Path, outside: Path, seed: int) -> list[str]:
    """Lay a spoilt register down; return what was done to it.

    outside : a folder with a file `secret`, beside the register: links lead there
    """
    chance, done = random.Random(seed), []
    for _ in range(chance.choice([1, 1, 2, 3])):
        trick = chance.choice(CONTENT)
        files = trick(files, chance, done)
    lay_down(files, folder)
    if chance.random() < 0.35:
        chance.choice(PLACES)(folder, outside, chance, done)
    return done


def in_commit(files: Files, chance: random.Random, done: list[str]) -> Files:
    """Exchange one value somewhere in a commit."""
    path = chance.choice(commits(files))
    content = digest_checked(files[path])
    if content is None:
        return files
    where = chance.choice(list(places(content)))
    value = chance.choice(LEAVES)
    done.append(f"{path} {where} = {str(value)[:40]!r}")
    made = changed(content, where, value)
    if chance.random() < 0.2:
        made = {**content, chance.choice(["checkpoint", "replaced", "origin", "tidied", "copy", "signature"]): value}
    return fitted({**files, path: with_digest(made)}) if chance.random() < 0.95 else {**files, path: with_digest(made)}


def other_key(files: Files, chance: random.Random, done: list[str]) -> Files:
    """Give a table, segment or site in a commit another name."""
    path = chance.choice(commits(files))
    content = digest_checked(files[path])
    if content is None or not isinstance(content.get("segments"), dict):
        return files
    name = chance.choice(["abc", "../../outside/x", "firm", "cables", "9" * 9, "x" * 300, "", "\x1b[1m", "1"])
    done.append(f"{path} a name {name[:20]!r}")
    which = chance.randrange(3)
    holder = content["segments"] if which == 0 else content["sites"]
    if which == 1 and content["segments"]:
        holder = chance.choice(list(content["segments"].values()))
    if isinstance(holder, dict) and holder:
        holder[name] = holder.pop(chance.choice(list(holder)))
    return fitted({**files, path: with_digest(content)})


def in_segment(files: Files, chance: random.Random, done: list[str]) -> Files:
    """Put other bytes in the place of a segment or of changes."""
    try:
        content = digest_checked(files["commits/00000001.json"])
        table = chance.choice(["changes", "cables", "cables", *content["segments"]])
        ref = content["changes"] if table == "changes" else next(iter(content["segments"][table].values()))
        data = hostile_parquet(chance, files[ref["file"]])
        try:
            rows = pq.read_metadata(io.BytesIO(data)).num_rows
        except (OSError, ValueError, pa.ArrowException):
            rows = 1
        made = exchanged(files, table, data, rows if chance.random() < 0.8 else chance.choice([0, 1, 10**18]))
    except (KeyError, TypeError, AttributeError, StopIteration, OverflowError):
        return files  # an earlier trick took away what this one wants
    done.append(f"segment of {table}: {len(data)} bytes")
    return made


def numbers(files: Files, chance: random.Random, done: list[str]) -> Files:
    """Add, leave out or move a commit."""
    last = commits(files)[-1]
    to = chance.choice([0, 2, 4, 5, 33, 4711, 99_999_999])
    done.append(f"{last} also as {to}")
    out = {**files, f"commits/{to:08d}.json": files[last]}
    if chance.random() < 0.5:
        content = digest_checked(files[last])
        if content is not None:
            out[f"commits/{to:08d}.json"] = with_digest({**content, "commit": to})
    if chance.random() < 0.3:
        out.pop(last)
    return fitted(out) if chance.random() < 0.5 else out


def in_head(files: Files, chance: random.Random, done: list[str]) -> Files:
    """Exchange a value in register.json, or all of it."""
    content = digest_checked(files["register.json"]) or {}
    name = chance.choice(["format", "id", "name", "created_utc", "copy", "keys"])
    value = chance.choice([*LEAVES, {"commit": 10**9, "digest": "x", "sites": ["S1"], "left_out": ["sites.name"]}])
    done.append(f"register.json {name} = {str(value)[:40]!r}")
    whole = chance.choice(
        [with_digest({**content, name: value})] * 6 + [deep(50_000), b"", b"[]", b"{},", b"{" * 3_000_000]
    )
    return fitted({**files, "register.json": whole})


def kept_edit(files: Files, chance: random.Random, done: list[str]) -> Files:
    """Spoil the kept edit."""
    path = next((p for p in files if p.startswith("pending/")), "pending/x.json")
    content = digest_checked(files.get(path, b"")) or {"tables": {}}
    where = chance.choice(list(places(content)))
    value = chance.choice(LEAVES)
    done.append(f"{path} {where} = {str(value)[:40]!r}")
    return {**files, path: with_digest(changed(content, where, value))}


def photo(files: Files, chance: random.Random, done: list[str]) -> Files:
    """Lay something strange among the photos, or name one by another's digest."""
    data = chance.choice([b"", chance.randbytes(50), b"\x89PNG\r\n\x1a\n" + chance.randbytes(50), PICTURE * 1000])
    name = chance.choice([digest(data) + ".png", "0" * 64 + ".gif", "x.gif", digest(data) + ".svg"])
    done.append(f"photos/{name}")
    return {**files, f"photos/{name}": data}


CONTENT = [in_commit, in_commit, in_commit, other_key, in_segment, in_segment, in_segment, numbers, in_head, kept_edit,
           photo]  # fmt: skip


def _victim(folder: Path, chance: random.Random) -> Path:
    return chance.choice(sorted(p for p in folder.rglob("*") if p.is_file() and not p.is_symlink()))


def pipe(folder: Path, outside: Path, chance: random.Random, done: list[str]) -> None:
    """Put a pipe, on which reading waits for ever, in the place of a file."""
    victim = _victim(folder, chance)
    victim.unlink()
    os.mkfifo(victim)
    done.append(f"{victim.relative_to(folder)} is a pipe")


def link(folder: Path, outside: Path, chance: random.Random, done: list[str]) -> None:
    """Put a link in the place of a file: to an endless device, to a file outside, to nothing, to itself."""
    victim = _victim(folder, chance)
    data = victim.read_bytes()
    victim.unlink()
    copy = outside / "copy"
    copy.write_bytes(data)
    to = chance.choice([Path("/dev/zero"), copy, outside / "secret", Path("nowhere"), victim])
    victim.symlink_to(to)
    done.append(f"{victim.relative_to(folder)} leads to {to.name}")


def linked_folder(folder: Path, outside: Path, chance: random.Random, done: list[str]) -> None:
    """Put a link in the place of a folder, with the folder itself outside."""
    victim = chance.choice(sorted(p for p in folder.rglob("*") if p.is_dir()))
    moved = outside / "moved"
    victim.rename(moved)
    victim.symlink_to(moved)
    done.append(f"{victim.relative_to(folder)} leads outside")


def folder_for_file(folder: Path, outside: Path, chance: random.Random, done: list[str]) -> None:
    """Put a folder in the place of a file."""
    victim = _victim(folder, chance)
    victim.unlink()
    victim.mkdir()
    done.append(f"{victim.relative_to(folder)} is a folder")


def enormous(folder: Path, outside: Path, chance: random.Random, done: list[str]) -> None:
    """Let a file say that it has a terabyte, none of it on the disk."""
    victim = _victim(folder, chance)
    with victim.open("r+b") as file:
        file.truncate(10**12)
    done.append(f"{victim.relative_to(folder)} has a terabyte")


PLACES = [pipe, link, link, linked_folder, linked_folder, folder_for_file, enormous]
