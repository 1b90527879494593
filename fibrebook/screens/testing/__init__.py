"""Tests and faults: what passed, what was never tested, where it is broken, how well we splice.

In come a register, a site and what somebody read off an instrument; out go tables and pictures. It only reads.
"""
