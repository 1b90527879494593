"""Labels to integers: core ends, port positions and interface positions as numbers.

In come tables of the declared columns; out go arrays of integers that rules, network and answers reckon with.
It reads no file and judges nothing.
"""
