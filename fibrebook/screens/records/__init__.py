"""The form of any kind of record, and its history.

In come a register and a kind; out goes a form with its checks, and the changes commit by commit.
A kind's columns come from its declaration: none is named here.
"""
