"""A file in which one bit has turned, found by the digest that it should have."""

from __future__ import annotations

import hashlib
import re

from fibrebook.register.store.state import digest, digest_checked

LARGEST = 32_768  # bytes of a file in which a turned bit is looked for: a few seconds
_OWN_DIGEST = re.compile(rb'"digest":"([0-9a-f]{64})",')  # as it stands in a commit file, sorted among its neighbours


def turned_back(data: bytes, sha256: str) -> bytes | None:
    """Return the bytes with the one bit turned back that gives them their digest; None where that is not all.

    sha256 : their digest, or the beginning of it, in hexadecimal
    """
    if len(data) > LARGEST:
        return None
    wanted = bytes.fromhex(sha256)
    before = hashlib.sha256()
    attempt = bytearray(data)
    for place in range(len(data)):
        for bit in range(8):
            attempt[place] ^= 1 << bit
            tried = before.copy()
            tried.update(memoryview(attempt)[place:])
            if tried.digest().startswith(wanted):
                return bytes(attempt)
            attempt[place] ^= 1 << bit
        before.update(data[place : place + 1])
    return None


def turned_back_by_itself(data: bytes) -> bytes | None:
    """Return a file that bears its own digest with its one bit turned back; None where that is not all."""
    if len(data) > LARGEST:
        return None
    for said in _own_digests(data):
        start, end = said.span()
        body = data[:start] + data[end:]
        claimed, real = said.group(1), digest(body).encode()
        inside = turned_back(body, claimed.decode())
        for attempt in (
            None if inside is None else inside[:start] + data[start:end] + inside[start:],
            data[: said.start(1)] + real + data[said.end(1) :] if _one_bit_apart(claimed, real) else None,
        ):
            if attempt is not None and digest_checked(attempt) is not None:
                return attempt
    return _within_the_digest(data)


def _own_digests(data: bytes) -> list[re.Match[bytes]]:
    """Return where it bears its own digest; "previous_digest" is another word, and has no quotation mark there."""
    return list(_OWN_DIGEST.finditer(data))


def _one_bit_apart(one: bytes, other: bytes) -> bool:
    return sum((a ^ b).bit_count() for a, b in zip(one, other, strict=True)) == 1


def _within_the_digest(data: bytes) -> bytes | None:
    """Try the bits that make the words about its own digest readable again."""
    count = len(_own_digests(data))
    attempt = bytearray(data)
    for place in range(len(data)):
        for bit in range(8):
            attempt[place] ^= 1 << bit
            near = bytes(attempt[max(place - 80, 0) : place + 80])
            if _OWN_DIGEST.search(near) and len(_own_digests(bytes(attempt))) > count:
                found = bytes(attempt)
                if digest_checked(found) is not None:
                    return found
            attempt[place] ^= 1 << bit
    return None
