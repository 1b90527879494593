"""register.json and the commit files as they are read: their names, and whether they are what was written."""

from __future__ import annotations

import re

from fibrebook.bounded_json import bounded_json
from fibrebook.errors import DamagedError, FormatError, NotFoundError
from fibrebook.register.places.asked import Blobs, Missing
from fibrebook.register.store.shape import commit_faults
from fibrebook.register.store.state import FORMAT, Json, commit_path, digest_checked

HEAD = "register.json"
_COMMIT_NAME = re.compile(r"(?!00000000)[0-9]{8}\.json")


def read_head(blobs: Blobs) -> tuple[Json, bytes]:
    """Return the content of register.json and its bytes.

    Raises
    ------
    NotFoundError : there is none; DamagedError : it is not what was written; FormatError : a newer fibrebook wrote it
    """
    where = blobs.where
    try:
        data = blobs.read(HEAD)
        content: Json = bounded_json(data)
        form = content.get("format")
        if not isinstance(form, int) or not isinstance(content.get("id"), str):
            raise ValueError("it lacks its format or id")
        if not isinstance(content.get("name", ""), str):
            raise ValueError("its name is no text")
    except Missing:
        raise NotFoundError(
            f"there is no register at {where}; make one with fibrebook.create(...), or mend the place"
        ) from None
    except (ValueError, AttributeError) as error:
        raise DamagedError(f"{HEAD} at {where} is damaged ({error}): run mend, or restore it") from error
    if form > FORMAT:
        raise FormatError(
            f"the register at {where} has format {form}, this fibrebook reads up to {FORMAT}: "
            "install the newer fibrebook"
        )
    if digest_checked(data) is None or form < 1:
        raise DamagedError(f"{HEAD} at {where} is not what was written: run mend, or restore it")
    return content, data


def commit_names(blobs: Blobs) -> tuple[list[int], list[str]]:
    """Return the numbers of the commit files, and names among them that are none."""
    names = blobs.list("commits")
    proper = list(filter(_COMMIT_NAME.fullmatch, names))
    strange = [] if len(proper) == len(names) else [n for n in names if not _COMMIT_NAME.fullmatch(n)]
    return [int(n[:8]) for n in proper], strange  # in the order of their names, which is that of their numbers


def checked(data: bytes, number: int) -> Json:
    """Return the content of a commit file; DamagedError where it is not what was written."""
    path = commit_path(number)
    content = digest_checked(data)
    if content is None:
        try:
            newer = int(bounded_json(data)["format"]) > FORMAT
        except (ValueError, TypeError, KeyError, OverflowError):
            newer = False
        if newer:
            raise FormatError(
                f"commit {number} was written by a newer fibrebook, or is damaged: install the newer one, or run verify"
            )
        raise DamagedError(f"{path} is not what was written: run mend, or restore it from a copy of the register")
    if isinstance(content.get("format"), int) and content["format"] > FORMAT:
        raise FormatError(f"commit {number} was written by a newer fibrebook (format {content['format']}): install it")
    wrong = commit_faults(content, number)
    if wrong:
        raise DamagedError(f"{path} lacks parts that commit {number} must have ({', '.join(wrong)}): restore it")
    return content
