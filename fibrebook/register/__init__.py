"""Floor 1: the register. Immutable Parquet segments, a numbered log, merge, history, undo, verify."""

from fibrebook.register.register import Register, create, open

__all__ = ["Register", "create", "open"]
