"""Where a register's files live: a folder or a bucket, behind one small interface (files.py)."""

from __future__ import annotations

import os
from pathlib import Path

from fibrebook.register.files import TEMPORARY, AlreadyThere, Blobs, Missing, OutcomeUnknown, proper
from fibrebook.register.folder import LocalFolder

BUCKET_SCHEMES = ("s3://", "gs://", "az://", "abfss://")


def blobs_for(where: str | os.PathLike[str]) -> Blobs:
    """Return the files at a folder path or a bucket address (s3://bucket/prefix)."""
    text = os.fspath(where)
    if text.startswith(BUCKET_SCHEMES):
        from fibrebook.register.bucket import Bucket  # its library is loaded only where it is asked for

        return Bucket(text)
    return LocalFolder(Path(text).expanduser())


__all__ = ["TEMPORARY", "AlreadyThere", "Blobs", "Missing", "OutcomeUnknown", "blobs_for", "proper"]
