"""An optional signature on each commit by a key file that the firm keeps outside the register.

HMAC-SHA256 of the standard library (RFC 2104, FIPS 198-1): a small firm that shares one key wants to know that a
commit was made by somebody who holds it, and needs no further package for that. It does not tell the holders apart.
"""

from __future__ import annotations

import hashlib
import hmac
import os
import secrets
from pathlib import Path

from fibrebook.errors import InputError, place_in_words
from fibrebook.register.store.state import Json, as_bytes
from fibrebook.regular_files import read_regular

VARIABLE = "FIBREBOOK_KEY"  # names the key file; the key itself is never in the register or the environment
LEAST, MOST = 16, 100_000


def make_key(path: str | os.PathLike[str]) -> Path:
    """Write a new key file that only its owner can read; refuse to write over one."""
    target = Path(path).expanduser()
    with place_in_words(f"no key file can be made at {target}"):
        handle = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w") as file:
            file.write(secrets.token_hex(32) + "\n")
    return target


def key_in_use() -> bytes | None:
    """Return the key of the file that FIBREBOOK_KEY names, None where it names none."""
    path = os.environ.get(VARIABLE)
    if not path:
        return None
    try:
        key = read_regular(Path(path).expanduser(), MOST).strip()
    except OSError as error:
        raise InputError(f"the key file {path!r} that {VARIABLE} names cannot be read: {error.strerror}") from error
    if len(key) < LEAST:
        raise InputError(f"the key file {path!r} holds fewer than {LEAST} characters; make one with make_key")
    return key


def _name(key: bytes) -> str:
    return hashlib.sha256(b"fibrebook key " + key).hexdigest()[:12]


def _sum(key: bytes, body: Json) -> str:
    plain = {k: v for k, v in body.items() if k not in ("signature", "digest")}
    return hmac.new(key, as_bytes(plain), hashlib.sha256).hexdigest()


def with_signature(body: Json) -> Json:
    """Return a commit's content with its signature, where a key is in use."""
    key = key_in_use()
    return body if key is None else {**body, "signature": {"key": _name(key), "hmac_sha256": _sum(key, body)}}


def fault(content: Json, key: bytes | None, expected: bool) -> str:
    """Return what is wrong with a commit's signature, "" where nothing is or nothing can be told.

    expected : an earlier commit bears a signature
    """
    said = content.get("signature")
    if said is None:
        return "bears no signature, although earlier commits do" if expected else ""
    if key is None or not isinstance(said, dict) or said.get("key") != _name(key):
        return ""
    good = hmac.compare_digest(str(said.get("hmac_sha256")), _sum(key, content))
    return "" if good else "bears a signature that was not made with the key"
