"""Every commit's signature, one after the other: what is promised of them (see store/signature.py), looked at whole."""

from __future__ import annotations

from collections.abc import Iterator

from fibrebook.errors import InputError
from fibrebook.register.store import signature
from fibrebook.register.store.keys import Key, keys_in_use
from fibrebook.register.store.state import Json, digest_checked

NOTHING_SIGNED = "no commit is signed, though a key file is in use: was nothing saved since, or were they cut out?"


class SignatureCheck:
    """Judges the commits of a register in their order.

    Attributes
    ----------
    unchecked : commits that bear a signature which nobody could check, for no key file is named
    """

    def __init__(self, head: bytes | None) -> None:
        self._anew = "copy" in (digest_checked(head or b"{}") or {})
        self._keys, self._unreadable = _keys()
        self._met = self._signed = 0

    @property
    def unchecked(self) -> int:  # noqa: D102
        return 0 if self._keys else self._signed

    def faults(self, content: Json) -> Iterator[str]:
        """Give what is wrong with the signature of the next commit."""
        fault = signature.fault(content, self._keys, self._signed > 0, self._anew)
        self._met += 1
        self._signed += "signature" in content
        if fault:
            yield fault

    def of_all(self) -> Iterator[str]:
        """Give what is wrong with all of them together, once each was met."""
        if self._unreadable:
            yield f"no signature was checked: {self._unreadable}"
        if self._keys and self._met and not self._signed:
            yield NOTHING_SIGNED


def _keys() -> tuple[tuple[Key, ...], str]:
    """Return the keys in use, and why they cannot be read."""
    try:
        return keys_in_use(), ""
    except InputError as error:
        return (), error.message
