"""What the digests of a register's files prove: the one true chain, what may be put in a file's place.

In come the files of a register and of other copies of it; out goes what is proved, and steps that are only planned.
Nothing is believed that a digest does not bear out, and nothing is written before it is planned whole.
"""
