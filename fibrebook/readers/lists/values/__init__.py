"""What a cell's text says, by the kind of its column: numbers and ranges, colours, ports, losses, days, conditions.

In comes a text, out comes what it says or None: it does not say such a thing. Nothing is guessed: what can be read in
two ways is None here, and a question above.
"""
