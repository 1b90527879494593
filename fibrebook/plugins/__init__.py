"""The plugin door: what a firm may add, as hooks that our own parts use too.

A plugin is a module or object with functions marked ``@fibrebook.plugins.hookimpl`` and an entry point in the
group ``fibrebook``. Hooks give declarations, which name their code as ``"module:function"``; it is imported when it
runs. The built-in parts named in BUILT_IN come in by the same door, and first.
The environment variable FIBREBOOK_PLUGINS names exactly which entry points to load (comma-separated; empty: none).

In come the declarations of plugins; out goes what all of them give, each with its plugin's name. A plugin that fails is
noted and left out, and never stops what only reads; what it would have had to judge is not saved meanwhile.
"""

from fibrebook.plugins.asking import (
    ask_all,
    files_by_plugin,
    gathered,
    gathered_analyses,
    gathered_attention,
    gathered_commands,
    gathered_files,
    gathered_screens,
    gathered_sections,
    gathered_sheets,
    gathered_spoken_names,
    note,
)
from fibrebook.plugins.declared import (
    AdviceCheck,
    Analysis,
    Attention,
    Command,
    Declared,
    HardRule,
    Page,
    PrintedSheet,
    SpokenName,
    VisitSection,
    code,
    name_of,
)
from fibrebook.plugins.door import BUILT_IN, faults, in_words, installed, manager, refuse_half_a_list
from fibrebook.plugins.hooks import hookimpl, hookspec
from fibrebook.plugins.not_well import MEND

__all__ = [
    "BUILT_IN",
    "MEND",
    "AdviceCheck",
    "Analysis",
    "Attention",
    "Command",
    "Declared",
    "HardRule",
    "Page",
    "PrintedSheet",
    "SpokenName",
    "VisitSection",
    "ask_all",
    "code",
    "faults",
    "files_by_plugin",
    "gathered",
    "gathered_analyses",
    "gathered_attention",
    "gathered_commands",
    "gathered_files",
    "gathered_screens",
    "gathered_sections",
    "gathered_sheets",
    "gathered_spoken_names",
    "hookimpl",
    "hookspec",
    "in_words",
    "installed",
    "manager",
    "name_of",
    "note",
    "refuse_half_a_list",
]
