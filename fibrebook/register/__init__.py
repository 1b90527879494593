"""The register itself: create it, open it, ask it, change it.

In come a place (a folder or bucket) and edits; out go tables of one commit, history, copies and care.
Immutable Parquet segments and a numbered log: nothing that was committed is ever written over.
"""

from fibrebook.register.register import Register, create, open

__all__ = ["Register", "create", "open"]
