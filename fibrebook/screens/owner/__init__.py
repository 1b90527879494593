"""What the owner asks: how much is spare, how much headroom there is.

In comes a register; out come pictures and tables of the analyses, and reservations as commits.
Nothing is reckoned here that an analysis does not tell.
"""
