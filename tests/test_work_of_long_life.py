"""What tidying, verifying and looking back cost as a register grows old: work is counted, not timed."""

from __future__ import annotations

import cProfile
import math
import os
import shutil
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest
from long_life import grow, long_lived, unflushed

from fibrebook.register import open
from fibrebook.register.care import packing, tidy
from fibrebook.register.places.folder import LocalFolder

pytestmark = pytest.mark.long  # a minute and a half
AGES = (500, 1000, 2000)
MOST = 1.15  # exponent of growth: 1 is linear, n log n here about 1.12
KEEP_DAYS = 50  # the newest 200 commits


def work(monkeypatch, job: Callable[[], object]) -> Counter[str]:
    """Do a job; return files read and made, their bytes, names listed, files gone, and calls of any function."""
    counts: Counter[str] = Counter()
    with monkeypatch.context() as patch:

        def counted(name: str, count: Callable[..., None]) -> None:
            real = getattr(LocalFolder, name)

            def through(self, *args):
                found = real(self, *args)
                count(found, *args)
                return found

            patch.setattr(LocalFolder, name, through)

        counted("read", lambda data, path: counts.update({"files read": 1, "bytes read": len(data)}))
        counted("create", lambda _, path, data: counts.update({"files made": 1, "bytes made": len(data)}))
        for name in ("list", "everything"):
            counted(name, lambda names, *_: counts.update({"names listed": len(names), "listings": 1}))
        for name in ("exists", "changed_at"):
            counted(name, lambda *_: counts.update({"looks": 1}))
        profile = cProfile.Profile()
        profile.runcall(job)
    counts["calls"] = sum(entry.callcount for entry in profile.getstats())
    return counts


def exponent(few: int, middle: int, many: int) -> float:
    """Return by which power of the size some work grew, told at a size, twice and four times that.

    The newest commits stay as they are at every size, so work is the size less something: what counts is what each
    further commit costs.
    """
    if many > middle > few:
        return math.log2((many - middle) / (middle - few))
    return math.log(max(many, 1) / few, 4)


@pytest.fixture(scope="module")
def ages(tmp_path_factory) -> dict[int, Path]:
    """The same register at three ages, with its index; no test changes it."""
    root = tmp_path_factory.mktemp("ages")
    reg = long_lived(root / "growing", 0)
    found = {}
    for age in AGES:
        grow(reg, age - reg.commit)
        found[age] = linked(root / "growing", root / str(age))
        unflushed(open(found[age])).history("sites", "S1")
    return found


def linked(root: Path, copy: Path) -> Path:
    """Copy a register by giving its files, which never change, second names."""
    return Path(shutil.copytree(root, copy, copy_function=os.link))


def tidied(where: Path) -> tidy.Tidied:
    """Tidy and pack a register, whatever its age."""
    return tidy.tidy(unflushed(open(where))._store, KEEP_DAYS, "ab", "room", grace_s=0)


def test_tidy_and_verify_grow_as_the_commits_do(ages, tmp_path, monkeypatch, record_property):
    """Files read, bytes, names listed and calls: twice the commits are twice the work, packed or not."""
    monkeypatch.setattr(packing, "EACH", 64)
    found = {}
    for age, where in ages.items():
        copy = linked(where, tmp_path / str(age))
        found["verify", age] = work(monkeypatch, lambda w=where: open(w).verify())
        found["tidy", age] = work(monkeypatch, lambda w=copy: tidied(w))
        found["verify packed", age] = work(monkeypatch, lambda w=copy: open(w).verify())
        assert len(list((copy / "packs").iterdir())) == 2 * ((age - packing.LOOSE) // 64)
    grown = {}
    for job in ("verify", "tidy", "verify packed"):
        few, middle, many = (found[job, age] for age in AGES)
        for what in many:
            if few[what] > 50:  # of a handful one more or less would tell another power
                grown[job, what] = exponent(few[what], middle[what], many[what])
                print(
                    f"{job:<14} {what:<13} {few[what]:>10} {middle[what]:>10} {many[what]:>10} {grown[job, what]:6.2f}"
                )
            else:
                assert many[what] <= 4 * few[what] + 20, (job, what)
    record_property("exponents", {" ".join(k): round(v, 2) for k, v in grown.items()})
    assert max(grown.values()) <= MOST, grown
    assert {w for _, w in grown} >= {"files read", "bytes read", "calls"}


def test_looking_back_costs_the_same_at_any_age(ages, tmp_path, monkeypatch):
    """The last hundred of the log, a record's and a site's history, a past day: work does not grow with the commits.

    Of the packs only those are opened that hold a commit asked for.
    """
    monkeypatch.setattr(packing, "EACH", 64)
    asked = {
        "log": lambda w: open(w).log(last=100),
        "record": lambda w: open(w).history("sites", "S3"),
        "site": lambda w: open(w).history(site="S3"),
        "open": lambda w: open(w).sites(),
        "past": lambda w: open(w, at=open(w).commit - 60).sites(),
    }
    found = {}
    for age, where in ages.items():
        copy = linked(where, tmp_path / str(age))
        tidied(copy)
        for name, ask in asked.items():
            ask(copy)
            found[name, age] = work(monkeypatch, lambda w=copy, ask=ask: ask(w))
    for name in asked:
        few, many = found[name, AGES[0]], found[name, AGES[-1]]
        print(name, dict(few), dict(many))
        assert many["files read"] <= few["files read"] + 3 <= (106 if name == "log" else 84), name
        assert many["listings"] <= few["listings"] + 3, name
    few, many = (found["log", age] for age in (AGES[0], AGES[-1]))
    assert many["calls"] <= 1.2 * few["calls"] and many["names listed"] <= 4 * few["names listed"]
