"""Work: what the van must hold for the next visit, and what was done that can be charged.

In comes a register, out goes a table. Nothing here decides what is to be done: that is advice's.
"""
