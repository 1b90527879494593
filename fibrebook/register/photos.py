"""Photos: kept in the register by the digest of their bytes, written once, never changed.

What the camera wrote into one (place, time, device) is taken out on the way in, unless the firm's choice
`photo_details` is to keep it.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from fibrebook.errors import DamagedError, InputError, NotCommittedError, NotFoundError
from fibrebook.register.photo_details import TAKEN_OUT, sort_of, without_details
from fibrebook.register.places.asked import Missing, OutcomeUnknown
from fibrebook.register.row_files.written import put_once
from fibrebook.register.store.state import digest

if TYPE_CHECKING:
    from fibrebook.register.register import Register

MOST_BYTES = 25_000_000


def keep_photo(reg: Register, data: bytes) -> str:
    """Put a picture into the register; return its name there, for the column `file` of a row of `photos`.

    The same picture twice is kept once. The row itself is committed like any other. What the camera wrote into it is
    left out (see `photo_details.py`), pixels unchanged, unless the firm has chosen to keep it.

    Raises
    ------
    InputError : no picture that a browser shows, too large, or damaged so that its details cannot be taken out
    NotCommittedError : the place refused, or did not confirm; nothing of it counts, it is safe to try again
    DamagedError : the same picture was kept before and is damaged
    """
    reg._writable()
    sort = sort_of(data) if isinstance(data, bytes) else None
    if sort is None:
        raise InputError("this file is no photo that can be shown: use JPEG, PNG, GIF or WebP")
    if len(data) > MOST_BYTES:
        raise InputError(f"this photo has {len(data):,} bytes, more than {MOST_BYTES:,}; make it smaller first")
    if not _details_kept(reg):
        data = without_details(data, sort)
    name = f"{digest(data)}.{sort}"
    try:
        put_once(reg._store.blobs, f"photos/{name}", data)
    except (OSError, OutcomeUnknown) as error:
        raise NotCommittedError(f"the photo could not be kept, so nothing was committed: {error}") from error
    return name


def _details_kept(reg: Register) -> bool:
    rows = reg.tables(names=["choices"])["choices"].to_pylist()
    return any(row["choice"] == "photo_details" and row["value"] == "keep" for row in rows)


def photo(reg: Register, name: str) -> bytes:
    """Return a picture's bytes, checked against its digest.

    Raises
    ------
    NotFoundError, DamagedError
    """
    if name == TAKEN_OUT:
        raise NotFoundError("this photo was taken out of the register by a redaction")
    if not isinstance(name, str) or not re.fullmatch(r"[0-9a-f]{16,64}\.[a-z]{3,4}", name):
        raise NotFoundError(f"{name!r} is not the name of a kept photo")
    try:
        data = reg._store.blobs.read(f"photos/{name}")
    except Missing:
        raise NotFoundError(f"the photo {name} is not in the register at {reg.where}") from None
    if not digest(data).startswith(name.partition(".")[0]):
        raise DamagedError(f"the photo {name} is not what was kept; restore photos/{name} from a copy")
    return data
