"""Return visit: before going back to a site, or on it, see what is there and what it carries.

In come a register and a thing of the site; out go its picture, its photos, its path and advice. It only reads.
"""
