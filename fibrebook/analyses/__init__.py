"""Answers: which analyses there are, and a room for each sort of question.

In comes a register, out goes a table; every answer marries what the plant says with what the light says.
An answer changes no record, draws nothing and prints nothing. `door` hands our own in by the plugin door.
"""
