"""What was measured: acceptance, splices and their makers, faults by distance, what is untested.

In come the tests and splices of a register; out go tables that set measured beside allowed.
A measured value is never altered, and one that is missing is never made up.
"""
