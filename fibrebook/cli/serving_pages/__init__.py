"""A server on this machine's own address for the front page, the pages and the notebooks.

In come a folder and what it is to show; out goes a process that ends with the command, and leaves none behind.
It knows nothing of the register but where it lies, and nobody but this machine can reach it.
"""
