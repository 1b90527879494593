"""The front door: one page over the whole firm, from which every screen is reached, and where one is found again.

In come a register and an address; out goes the page with its find box, what asks for attention and the screens, each
built when it is first shown and kept. It asks analyses and shows screens; it works nothing out itself and writes
nothing into the register.
"""
