"""The key file: secrets that the firm keeps outside the register, and which commits each of them is good for.

One key a line, `SECRET`, `SECRET from 120`, `SECRET from 120 to 4310` or `SECRET to 119` (numbers of commits); what
follows # is a remark. The numbers are those of the register that the file is for; a copy of some sites numbers its
commits anew, so that for it each key is good throughout.
"""

from __future__ import annotations

import hashlib
import os
import re
import secrets
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from fibrebook.errors import InputError, place_in_words
from fibrebook.regular_files import read_regular

VARIABLE = "FIBREBOOK_KEY"  # names the key file; a key itself is never in the register or the environment
LEAST, MOST = 16, 100_000
_LINE = re.compile(r"(?P<secret>\S+)(?:\s+from\s+(?P<first>[0-9]{1,8}))?(?:\s+to\s+(?P<last>[0-9]{1,8}))?")


@dataclass(frozen=True, slots=True)
class Key:
    """One secret.

    Attributes
    ----------
    secret : what signs
    first, last : numbers of the commits that it is good for; None = from the first one, to this day
    """

    secret: bytes
    first: int | None = None
    last: int | None = None

    @property
    def name(self) -> str:
        """What commits call it; tells nothing of the secret."""
        return hashlib.sha256(b"fibrebook key " + self.secret).hexdigest()[:12]

    def good_for(self, commit: int) -> bool:
        """Tell whether it is good for a commit."""
        return (self.first or 0) <= commit and (self.last is None or commit <= self.last)

    @property
    def span(self) -> str:
        """The commits that it is good for, in words."""
        begin = f"from commit {self.first} on" if self.first is not None else "from the first commit on"
        return begin if self.last is None else begin.removesuffix(" on") + f" to commit {self.last}"


def keys_in_use() -> tuple[Key, ...]:
    """Return the keys of the file that FIBREBOOK_KEY names, as they stand there; none where it names none.

    Raises
    ------
    InputError : the file cannot be read, or a line of it is no key
    """
    path = os.environ.get(VARIABLE)
    if not path:
        return ()
    place = Path(path).expanduser()
    try:
        about = place.stat()
        return _read(place, about.st_mtime_ns, about.st_size, about.st_ino)
    except OSError as error:
        raise InputError(f"the key file {path!r} that {VARIABLE} names cannot be read: {error.strerror}") from error


@lru_cache(maxsize=8)
def _read(place: Path, *_as_it_stands: int) -> tuple[Key, ...]:
    return parsed(read_regular(place, MOST), str(place))


def parsed(data: bytes, named: str) -> tuple[Key, ...]:
    """Return the keys of a key file's bytes; InputError names the line that is none."""
    found: list[Key] = []
    for number, line in enumerate(data.decode("utf-8", "surrogateescape").splitlines(), 1):
        text = line.partition("#")[0].strip()
        if not text:
            continue
        told = _LINE.fullmatch(text)
        if told is None:
            raise InputError(
                f"line {number} of the key file {named!r} is no key: write SECRET, or SECRET from 120 to 4310"
            )
        secret = told["secret"].encode("utf-8", "surrogateescape")
        first, last = (None if told[n] is None else int(told[n]) for n in ("first", "last"))
        if len(secret) < LEAST:
            raise InputError(
                f"line {number} of the key file {named!r} holds fewer than {LEAST} characters: make a key with new-key"
            )
        if last is not None and last < (first or 1):
            raise InputError(f"line {number} of the key file {named!r} ends before it begins: put the numbers right")
        found.append(Key(secret, first, last))
    if not found:
        raise InputError(f"the key file {named!r} holds no key: make one with new-key")
    return tuple(found)


def make_key(path: str | os.PathLike[str], first: int | None = None) -> Path:
    """Write a new key file that only its owner can read; refuse to write over one.

    first : number of the first commit that the key is to sign; None = it is good for any
    """
    target = Path(path).expanduser()
    with place_in_words(f"no key file can be made at {target}"):
        handle = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(_line(first))
    return target


def add_key(path: str | os.PathLike[str], first: int) -> Path:
    """Write one more key into a key file, good from a commit on; the one that was good until then ends before it.

    Raises
    ------
    InputError : the file cannot be read or written, or holds a key that begins later
    """
    target = Path(path).expanduser()
    with place_in_words(f"no key can be added to {target}"):
        data = read_regular(target, MOST)
        if any((k.first or 0) >= first for k in parsed(data, str(target))):
            raise InputError(f"{target} holds a key that begins at commit {first} or later already: use that one")
        lines = data.decode("utf-8", "surrogateescape").splitlines()
        ended = [_ended(line, first - 1) for line in lines]
        text = "\n".join(ended) + "\n" + _line(first)
        new = target.with_name(f"{target.name}.new")
        handle = os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "wb") as file:
            file.write(text.encode("utf-8", "surrogateescape"))
        new.replace(target)
    return target


def _line(first: int | None) -> str:
    return secrets.token_hex(32) + ("" if first is None else f" from {first}") + "\n"


def _ended(line: str, last: int) -> str:
    text, mark, remark = line.partition("#")
    told = _LINE.fullmatch(text.strip())
    if told is None or (told["last"] is not None and int(told["last"]) <= last):
        return line
    words = text.partition(" to ")[0].rstrip() + f" to {last}"
    return f"{words} {mark}{remark}" if mark else words
