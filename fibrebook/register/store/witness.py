"""What this machine saw of a register when it read it last: a witness that no folder of the register can overrule.

Whoever can write to a register's folder can cut off its newest commits, put an older copy in its place, or write its
whole past anew; every digest in it can then fit. So each machine keeps, for each place, the number and digest of the
newest commit that it saw and the first signed one, and tells when the register is older than that, or another.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
import json
import os
import re
from dataclasses import asdict, dataclass
from pathlib import Path

from platformdirs import user_data_path

from fibrebook.bounded_json import bounded_json
from fibrebook.errors import FibrebookError
from fibrebook.register.store.commit_files import HEAD
from fibrebook.register.store.log import Log
from fibrebook.register.store.state import digest
from fibrebook.regular_files import read_regular

VARIABLE = "FIBREBOOK_WITNESS"  # names the folder; else it lies in the user's data folder
MOST_BYTES = 10_000
ACCEPT = "If that is as it should be (it was restored from a backup, say), run take-as-it-is; else look for it"
_SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Seen:
    """What was seen.

    Attributes
    ----------
    commit, digest : the newest commit and its digest
    signed_from : number of the first commit known to be signed; 0 = none known
    on : the day, ISO
    """

    commit: int
    digest: str
    signed_from: int
    on: str


def folder() -> Path:
    """Return where witnesses lie."""
    named = os.environ.get(VARIABLE)
    return Path(named).expanduser() if named else user_data_path("fibrebook", appauthor=False) / "seen"


def _file(log: Log) -> Path:
    """One file for each place: a copy elsewhere goes its own way."""
    here = log.blobs.local_path(HEAD)
    place = str(here.parent.resolve()) if here is not None else log.blobs.where.rstrip("/")
    return folder() / f"{hashlib.sha256(place.encode() + log.head_bytes()).hexdigest()[:32]}.json"


def last_seen(log: Log) -> Seen | None:
    """Return what was seen of the register last; None where it was never seen here, or nothing is known of it."""
    try:
        told = bounded_json(read_regular(_file(log), MOST_BYTES))
        seen = Seen(told["commit"], told["digest"], told["signed_from"], told["on"])
    except (OSError, ValueError, KeyError, TypeError, FibrebookError):
        return None
    numbers = all(isinstance(n, int) and not isinstance(n, bool) and n >= 0 for n in (seen.commit, seen.signed_from))
    texts = isinstance(seen.digest, str) and bool(_SHA256.fullmatch(seen.digest)) and isinstance(seen.on, str)
    return seen if numbers and texts else None


def doubt(log: Log, newest: int, seen: Seen | None) -> str:
    """Return in words how the register differs from what was seen of it, "" where it is that or goes on from it."""
    if seen is None or not seen.commit:
        return ""
    day = f"on {seen.on[:10]} this machine saw commit {seen.commit} of this register"
    if newest < seen.commit:
        ends = f"now it ends with commit {newest}" if newest else "now it is empty"
        return f"{day}; {ends}: its newest commits were cut off, or an older copy lies in its place. {ACCEPT}"
    try:
        same = digest(log.raw(seen.commit)) == seen.digest
    except FibrebookError:
        return ""  # reading it tells what is wrong
    return "" if same else f"{day}; now commit {seen.commit} is another: its past was written anew. {ACCEPT}"


def go_on(log: Log, newest: int) -> str:
    """Compare a register with what was seen of it last, and keep what it is now unless that is in doubt.

    Returns
    -------
    the doubt in words, "" = none. Where nothing can be kept, nothing is said: the register does not depend on it
    """
    if log.quiet:  # a register that is only planned, or looked at
        return ""
    seen = last_seen(log)
    found = doubt(log, newest, seen)
    if newest and not found:
        with contextlib.suppress(OSError, FibrebookError):
            _keep(log, newest, seen)
    return found


def _keep(log: Log, newest: int, before: Seen | None) -> None:
    log.commit(newest)  # by which it is known whether it is signed
    if before is None or (before.commit, before.signed_from) != (newest, log.signed_from or 0):
        seen = Seen(newest, digest(log.raw(newest)), log.signed_from or 0, dt.date.today().isoformat())
        path = _file(log)
        path.parent.mkdir(parents=True, exist_ok=True)
        new = path.with_name(f"{path.name}.{os.getpid()}")
        new.write_text(json.dumps(asdict(seen)), encoding="utf-8")
        new.replace(path)


def forget(log: Log) -> None:
    """Take the register as it stands: nothing is known of what was seen of it."""
    with contextlib.suppress(FileNotFoundError):
        _file(log).unlink()
