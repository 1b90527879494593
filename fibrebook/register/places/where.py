"""Where a register's files live: a folder or a bucket, behind one small interface (asked.py), packs read through."""

from __future__ import annotations

import os
from pathlib import Path

from fibrebook.errors import InputError
from fibrebook.register.places.asked import TEMPORARY, AlreadyThere, Blobs, Missing, OutcomeUnknown, proper
from fibrebook.register.places.folder import LocalFolder
from fibrebook.register.places.packs import Packed

BUCKET_SCHEMES = ("s3://", "gs://", "az://", "abfss://")


def blobs_for(where: str | os.PathLike[str]) -> Packed:
    """Return the files at a folder path or a bucket address (s3://bucket/prefix)."""
    text = os.fspath(where)
    if text.startswith(BUCKET_SCHEMES):
        from fibrebook.register.places.bucket import Bucket  # its library is loaded only where it is asked for

        return Packed(Bucket(text))
    if "\0" in text:
        raise InputError(f"{text!r} is no folder: a path holds no null character")
    try:
        return Packed(LocalFolder(Path(text).expanduser()))
    except RuntimeError as error:
        raise InputError(f"{text!r} is no folder that can be found: {error}") from error


__all__ = ["TEMPORARY", "AlreadyThere", "Blobs", "Missing", "OutcomeUnknown", "blobs_for", "proper"]
