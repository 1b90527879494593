"""Floor 6: the words of the command line.

Exit codes: 0 done; 1 it could not be done (the message says why and what to do); 2 the command was misspelt;
3 done, but something wants attention (damage found, problems in a dry run).
"""

from __future__ import annotations

import contextlib
import sys
import warnings
from collections.abc import Sequence

import click

from fibrebook.cli.door import OUR_COMMANDS
from fibrebook.cli.output import OutputError, ReaderGoneError, careful_streams, write_no_more
from fibrebook.cli.printed import report_error
from fibrebook.errors import FibrebookError, told_by_system
from fibrebook.plugins import Command

OURS = {c.name: c for c in OUR_COMMANDS}

EPILOG = """Exit codes: 0 done; 1 it could not be done, the message says why; 2 the command was misspelt;
3 done, but something wants attention (damage found, problems in a dry run)."""


class InOrder(click.Group):
    """Commands listed in the order of the work rather than by letter; each is imported when it is run."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names of our commands, then those of plugins."""
        from fibrebook.plugins import gathered_commands

        return list(gathered_commands())

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return a command by its name; plugins are asked only for what is none of ours."""
        if cmd_name in OURS:
            return _ours(OURS[cmd_name])
        from fibrebook.cli.of_plugins import command_of
        from fibrebook.plugins import gathered_commands

        declared = gathered_commands().get(cmd_name)
        return None if declared is None else command_of(declared)


def _ours(declared: Command) -> click.Command:
    found = declared.function
    assert isinstance(found, click.Command)
    found.short_help = declared.help
    return found


@click.group(
    cls=InOrder, epilog=EPILOG, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80}
)
@click.version_option(package_name="fibrebook", prog_name="fibrebook")
@click.option(
    "-r", "--register", metavar="WHERE", help="Folder or bucket address; else $FIBREBOOK_REGISTER, else ./register."
)
@click.pass_context
def cli(ctx: click.Context, register: str | None) -> None:
    """Keep the firm's register of installed fibre, and ask it.

    Which core goes where, what is spare, will the light get through.
    """
    ctx.obj = register


def main(args: Sequence[str] | None = None) -> None:
    """Run a command and end the process with its exit code; never a traceback for what a user can cause."""
    words = list(sys.argv[1:] if args is None else args)
    from fibrebook.records.cold import leave_pandas_out

    leave_pandas_out()
    warnings.showwarning = _as_words
    with careful_streams():
        code = _ended(words)
        _tell_what_is_not_well()
    sys.exit(code)


def _as_words(message: Warning | str, category: type[Warning], *place: object, **more: object) -> None:
    """Say a warning on stderr as a sentence; where in the program it arose helps nobody here."""
    with contextlib.suppress(OutputError, ReaderGoneError):
        click.echo(f"fibrebook: {message}", err=True)


def _tell_what_is_not_well() -> None:
    """Say on stderr, after any command, which plugin was left out of what it did."""
    from fibrebook.plugins import in_words

    told = in_words()
    if told:
        with contextlib.suppress(OutputError, ReaderGoneError):
            click.echo(f"fibrebook: {told}", err=True)


def _ended(words: list[str]) -> int:
    """Run a command; return its exit code, after what went wrong was told."""
    try:
        try:
            code = cli.main(words, prog_name="fibrebook", standalone_mode=False)
            sys.stdout.flush()
            return code if isinstance(code, int) else 0
        except click.ClickException as error:
            error.show()
            return error.exit_code
        except click.exceptions.Abort:
            click.echo("stopped", err=True)
            return 130
        except OutputError:
            raise
        except FibrebookError as error:
            report_error(error, as_json="--json" in words)
            return 1
        except OSError as error:
            report_error(FibrebookError(told_by_system(error)), as_json="--json" in words)
            return 1
    except ReaderGoneError:
        write_no_more()
        return 0
    except OutputError as error:
        write_no_more()
        with contextlib.suppress(OutputError, ReaderGoneError):
            click.echo(f"fibrebook: {error}", err=True)
        return 1
