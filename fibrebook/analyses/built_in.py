"""The built-in analyses and advice checks, handed in by the same hooks that a plugin uses."""

from __future__ import annotations
