"""Tests meet no register and no plugin of the person who runs them."""

from __future__ import annotations

import os

os.environ.pop("FIBREBOOK_REGISTER", None)  # the notebooks then make the demo register
