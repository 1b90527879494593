"""Whether the light gets through: headroom, room for more, what if, what would run.

In come a register and a question about channels or paths; out goes a table, limits and losses with their sources.
Losses are summed by `losses`, never here.
"""
