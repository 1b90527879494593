"""Visits: what somebody who stands at a site asks, each question with one answer for screen, command and Python.

In comes a snapshot of a site (or a register, where the past is asked), out goes a table. Nothing is reckoned here that
another room reckons: paths, losses, advice and spare are asked of theirs.
"""
