"""Trying a plugin on a register of random rows, before anybody's register meets it.

In comes the name of an installed plugin; out goes one line a step: whether it holds, and what was found. `random_rows`
makes the register's rows and the plugin's, `steps` goes through what a register lives through, `trial` has the plugin
alone at the door.
A firm's own register is never opened; everything happens in a folder of its own that is gone afterwards.
"""
