"""Commands that plugins add: what breaks in one is told in words, with its plugin, and never as a traceback."""

from __future__ import annotations

from typing import Any

import click

from fibrebook.errors import FibrebookError, PluginError
from fibrebook.plugins import Command


class OfPlugin(click.Command):
    """A plugin's command, standing for the one that it declares."""

    def __init__(self, declared: Command, found: click.Command) -> None:
        super().__init__(declared.name, params=found.params, help=found.help, short_help=declared.help)
        self._found = found

    def invoke(self, ctx: click.Context) -> Any:
        """Run it."""
        try:
            return self._found.invoke(ctx)
        except (FibrebookError, click.ClickException, click.exceptions.Exit, click.exceptions.Abort, OSError):
            raise
        except Exception as error:  # whatever a stranger's function may raise
            raise PluginError(f"the command {self.name!r} broke: {type(error).__name__}: {error}") from error


class NotToBeHad(click.Command):
    """A plugin's command whose code is not there: listed with the rest, and says why when it is run."""

    def __init__(self, declared: Command, why: str) -> None:
        super().__init__(declared.name, short_help=declared.help)
        self.context_settings = {"ignore_unknown_options": True, "allow_extra_args": True}
        self._why = why

    def invoke(self, ctx: click.Context) -> Any:
        """Raise PluginError."""
        raise PluginError(f"the command {self.name!r} is not to be had: {self._why}")


def command_of(declared: Command) -> click.Command:
    """Return the command that a plugin declares; where its code is not there, one that says so when it is run."""
    try:
        found = declared.function
        if not isinstance(found, click.Command):
            raise TypeError(f"{found!r} is no click.Command")
    except Exception as error:  # a stranger's module may raise anything while it is imported
        return NotToBeHad(declared, f"{type(error).__name__}: {error}")
    return OfPlugin(declared, found)
