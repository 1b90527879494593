"""What every element and every path loses, and what a budget allows.

In come the records, the network and the published values; out go losses by element and path with their basis.
It asks no question of its own: no headroom is told to people here, and nothing is read from a register.
"""
