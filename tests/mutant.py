"""A pytest plugin that runs the tests on a package of which one module is slightly wrong: see test_mutants.py.

FIBREBOOK_MUTANT = "module=file": the module is made of that file's text instead of its own.
"""

import importlib.abc
import importlib.machinery
import os
import sys
from pathlib import Path


class Mutant(importlib.abc.MetaPathFinder, importlib.abc.SourceLoader):
    """Finds one module in another file; everything else is left to the others."""

    def __init__(self, name: str, file: str) -> None:
        self.name, self.file = name, file

    def find_spec(self, fullname, path=None, target=None):
        """Answer for the one module only."""
        if fullname != self.name:
            return None
        found = importlib.machinery.PathFinder.find_spec(fullname, path)
        return importlib.machinery.ModuleSpec(fullname, self, origin=found.origin if found else None)

    def get_filename(self, fullname):
        """Return the file that the module takes the place of: what is shipped beside it is looked for there."""
        found = importlib.machinery.PathFinder.find_spec(fullname, sys.modules[fullname.rpartition(".")[0]].__path__)
        assert found is not None and found.origin is not None
        return found.origin

    def get_data(self, path):
        """Return the mutant's text."""
        return Path(self.file).read_bytes()

    def path_stats(self, path):
        """Keep no compiled copy: it would lie where the sound one belongs."""
        raise OSError


if os.environ.get("FIBREBOOK_MUTANT"):
    sys.meta_path.insert(0, Mutant(*os.environ["FIBREBOOK_MUTANT"].split("=", 1)))
