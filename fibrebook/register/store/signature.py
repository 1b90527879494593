"""An optional signature on each commit by a key that the firm keeps outside the register (see keys.py).

HMAC-SHA256 of the standard library (RFC 2104, FIPS 198-1): a small firm that shares one key wants to know that a
commit was made by somebody who holds it, and needs no further package for that. It does not tell the holders apart.

What is promised. With the key: from the first signed commit on, and from the first commit that the key file names a
key for, each commit must bear a good signature of a key that was good for it; reading and verify tell of any that does
not. Without the key: a signed register that has commits without a signature, or with what is none, is told; whether a
signature is good nobody can tell, and verify says so.
"""

from __future__ import annotations

import hashlib
import hmac
import re
from collections.abc import Sequence
from typing import Any

from fibrebook.errors import InputError
from fibrebook.register.store.keys import VARIABLE, Key, keys_in_use
from fibrebook.register.store.state import Json, as_bytes

UNSIGNED = "bears no signature, although earlier commits do"
UNSIGNED_FOR_KEY = "bears no signature, although the key file names a key for it"
NO_SIGNATURE = "bears as signature what is none"
NO_KEY_OF_OURS = "bears a signature by a key that the key file does not name"
NOT_GOOD = "bears a signature that was not made with the key"
_NAME, _SUM = re.compile(r"[0-9a-f]{12}"), re.compile(r"[0-9a-f]{64}")


def _sum(key: Key, body: Json) -> str:
    plain = {k: v for k, v in body.items() if k not in ("signature", "digest")}
    return hmac.new(key.secret, as_bytes(plain), hashlib.sha256).hexdigest()


def with_signature(body: Json, numbered_anew: bool = False) -> Json:
    """Return a commit's content with its signature, where a key file is in use.

    numbered_anew : the register is a copy of some sites, whose commits are not those that the key file means

    Raises
    ------
    InputError : the key file names no key that is good for the commit
    """
    keys = keys_in_use()
    if not keys:
        return body
    good = [k for k in keys if numbered_anew or k.good_for(body["commit"])]
    if not good:
        raise InputError(
            f"the key file that {VARIABLE} names has no key for commit {body['commit']}: add one with new-key --add"
        )
    return {**body, "signature": {"key": good[-1].name, "hmac_sha256": _sum(good[-1], body)}}


def fault(content: Json, keys: Sequence[Key], expected: bool, numbered_anew: bool = False) -> str:
    """Return what is wrong with a commit's signature, "" where nothing is or nothing can be told.

    keys : those in use; none = whether a signature is good is not looked at
    expected : an earlier commit bears a signature
    numbered_anew : as for `with_signature`
    """
    number, said = content["commit"], content.get("signature")
    if said is None:
        if expected:
            return UNSIGNED
        named = [] if numbered_anew else [k.first for k in keys if k.first is not None]
        return UNSIGNED_FOR_KEY if named and number >= min(named) else ""
    if not _is_signature(said):
        return NO_SIGNATURE
    if not keys:
        return ""
    own = [k for k in keys if k.name == said["key"]]
    if not own:
        return NO_KEY_OF_OURS
    if not numbered_anew and not any(k.good_for(number) for k in own):
        return f"bears a signature by a key that is good {own[0].span} only"
    return "" if hmac.compare_digest(said["hmac_sha256"], _sum(own[0], content)) else NOT_GOOD


def _is_signature(said: Any) -> bool:
    return (
        isinstance(said, dict)
        and isinstance(said.get("key"), str)
        and isinstance(said.get("hmac_sha256"), str)
        and bool(_NAME.fullmatch(said["key"]))
        and bool(_SUM.fullmatch(said["hmac_sha256"]))
    )
