"""What may stand: the hard rules that no commit breaks.

In come whole tables of some sites; out go problems that name record, what is wrong and what to do.
A rule never mends, never reads a file and never warns: what is only worth a second look is advice.
"""
