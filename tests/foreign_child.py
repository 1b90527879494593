"""A bounded process in which hostile registers are read: python foreign_child.py FOLDER MEGABYTES SECONDS SEED...

For each seed a spoilt register is laid down and everything asked of it. One line of JSON a seed tells what went wrong;
a line that begins with "at" tells where it is, so that whoever waits knows what hung.
"""

from __future__ import annotations

import json
import resource
import shutil
import signal
import sys
import tempfile
import time
import traceback
import warnings
from pathlib import Path

import foreign_folders as foreign
import pandas as pd  # noqa: F401  loaded before the memory is bounded
import pyarrow.compute  # noqa: F401

import fibrebook
import fibrebook.analyses
from fibrebook import errors
from fibrebook.register.care_of_register import mend_place
from fibrebook.register.photos import photo

LONGEST_MESSAGE = 20_000
PAGE = resource.getpagesize()


def bound(megabytes: int) -> None:
    """Let this process take so much more memory than it has now."""
    now = int(Path("/proc/self/statm").read_text().split()[0]) * PAGE
    resource.setrlimit(resource.RLIMIT_AS, (now + megabytes * 2**20,) * 2)


def reading(reg):
    """Give what is asked of a register that is only read."""
    yield "sites", reg.sites
    yield "tables", lambda: [len(t.to_pandas()) for t in reg.tables().values()]
    yield "cores", lambda: reg.table("cores")
    for kind in ("cables", "sites", "photos"):
        yield kind, lambda kind=kind: reg.table(kind, "S1")
    yield "history", reg.history
    yield "log", reg.log
    yield "differences", lambda: reg.differences(0)
    yield "earlier", lambda: fibrebook.open(reg.where, at=1).tables()
    yield "pending", reg.pending
    yield "kept", lambda: [reg.pending_conflicts(n) for n in reg.pending()["name"]]
    yield "cross reference", lambda: fibrebook.cross_reference(reg)
    yield "spare", lambda: fibrebook.spare(reg, by="site")
    yield "headroom", lambda: fibrebook.headroom(reg)
    yield "advice", lambda: fibrebook.advice(reg)
    yield "trace", lambda: fibrebook.trace(reg, "S1", ("core", "C1", 1))
    yield "photo", lambda: [photo(reg, str(n)) for n in reg.table("photos")["file"]]
    yield "undeclared", reg.undeclared


def writing(reg, scratch, good):
    """Give what changes a register or carries it elsewhere; `good` is a sound register of the same id."""
    by = {"by": "x", "why": "x"}

    def save():
        with reg.edit(**by) as edit:
            edit.put("sites", [{"site": "S1", "notes": "saved"}, {"site": "S7"}])

    def settle():
        for name in reg.pending()["name"]:
            reg.pending_resolve(name, "mine")

    def redo(name, what):
        return lambda: what(fibrebook.open(shutil.copytree(good, scratch / name)))

    yield "publish", lambda: reg.publish(scratch / "published")
    yield "send out", lambda: fibrebook.send_out(reg, scratch / "book.xlsx")
    yield "take away", lambda: reg.take_away(scratch / "whole")
    yield "take away a site", lambda: reg.take_away(scratch / "part", "S1", personal=False)
    yield "bring back", redo("home", lambda home: home.bring_back(reg.where, **by))
    yield "bring back, shown", redo("home2", lambda home: home.bring_back_preview(reg.where))
    yield "mend another from it", redo("home3", lambda home: home.mend(**by, source=reg.where))
    yield "settle", settle
    yield "save", save
    yield "undo", lambda: reg.undo(reg.commit, **by)
    yield "tidy", lambda: reg.tidy(0, **by)
    yield "redact", lambda: reg.redact(**by, site="S1")
    yield "mend", lambda: mend_place(reg.where, "x", "x")


def tried(name, what, faults):
    """Ask one thing; note whatever is neither an answer nor an error of ours in plain words; return what was told."""
    print(f"at {name}", flush=True)
    started, told = time.process_time(), name
    try:
        what()
        return ""
    except errors.FibrebookError as error:
        told = str(error)
        if not error.message or len(str(error)) > LONGEST_MESSAGE or "Traceback" in str(error):
            faults.append(f"{name}: a message of {len(str(error))} characters")
    except BaseException as error:
        if isinstance(error, SystemExit | KeyboardInterrupt):
            raise
        where = traceback.extract_tb(error.__traceback__)
        ours = [f"{Path(f.filename).name}:{f.lineno}" for f in where if "fibrebook" in f.filename][-3:]
        faults.append(f"{name}: {type(error).__name__}: {str(error)[:150]} at {' '.join(ours)}")
    finally:
        if time.process_time() - started > SECONDS:
            faults.append(f"{name}: took, of processor time, {time.process_time() - started:.1f} s")
    return told


def one(files, good, seed):
    """Lay one spoilt register down and ask everything; return what was done to it and what went wrong."""
    faults = []
    root = Path(tempfile.mkdtemp(prefix="foreign-"))
    outside, scratch, folder = root / "outside", root / "scratch", root / "reg"
    outside.mkdir()
    scratch.mkdir()
    (outside / "secret").write_bytes(b"very secret")
    done = foreign.spoil(files, folder, outside, seed)
    before = {p: p.read_bytes() for p in sorted(outside.rglob("*")) if p.is_file()}
    opened = []
    if not tried("open", lambda: opened.append(fibrebook.open(folder)), faults):
        reg = opened[0]
        found = []
        sound = not tried("verify", lambda: found.append(reg.verify()), faults) and found[0].empty
        told = {n: tried(n, what, faults) for n, what in reading(reg)}
        told |= {n: tried(n, what, faults) for n, what in writing(reg, scratch, good)}
        if sound:
            faults += [
                f"verify is clean, but {n} was refused: {told[n][:200]}"
                for n in MUST
                if told[n] and RULE not in told[n]
            ]
    else:
        tried("mend", lambda: mend_place(folder, "x", "x"), faults)
    if {p: p.read_bytes() for p in sorted(outside.rglob("*")) if p.is_file()} != before:
        faults.append("files outside the register were changed")
    if sorted(p.name for p in root.iterdir()) != ["outside", "reg", "scratch"]:
        faults.append("something was written beside the register")
    shutil.rmtree(root, ignore_errors=True)
    return done, faults


RULE = "cannot stand in the register"  # a hard rule that the rows break as they stand: no damage to a file
MUST = ("sites", "tables", "cores", "cables", "history", "log", "cross reference", "save")


if __name__ == "__main__":
    where, megabytes, SECONDS = Path(sys.argv[1]), int(sys.argv[2]), float(sys.argv[3])
    warnings.simplefilter("ignore")
    template = {p.relative_to(where).as_posix(): p.read_bytes() for p in sorted(where.rglob("*")) if p.is_file()}
    warm = fibrebook.open(where)  # what is imported late is imported now
    for _, ask in reading(warm):
        ask()
    fibrebook.send_out(warm, Path(tempfile.mkdtemp()) / "book.xlsx")
    bound(megabytes)
    for text in sys.argv[4:]:
        print(f"at seed {text}", flush=True)
        signal.alarm(int(60 * SECONDS))  # whatever hangs ends the process
        what, wrong = one(template, where, int(text))
        print(json.dumps({"seed": int(text), "done": what, "faults": wrong}), flush=True)
