"""Copies of a register: taken away, worked in, looked at and brought back.

In come two registers of one origin; out goes one commit in ours, or the conflicts to decide.
A copy is only read when it is brought back, never changed.
"""
