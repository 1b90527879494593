"""What each reference value is held against: physics, arithmetic, or another publisher's print of it.

In come the tables as the package ships them; out goes a `Finding` for every row that a check covers. `python -m
fibrebook.reference.check` prints every value with its source, how it is known and what holds it; `planted` puts wrong
values in and tells which are noticed. No value comes from here, and no answer for a register asks this room.
"""
