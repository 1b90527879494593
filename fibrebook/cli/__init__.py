"""Floor 6: the words of the command line.

Exit codes: 0 done; 1 it could not be done (the message says why and what to do); 2 the command was misspelt;
3 done, but something wants attention (damage found, problems in a dry run).
"""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Sequence

import click

from fibrebook.cli import answers, files, keep, light, start
from fibrebook.cli.common import report_error
from fibrebook.errors import FibrebookError

COMMANDS = (
    start.demo,
    start.open_notebooks,
    files.new,
    files.bring_in_files,
    files.send_out_file,
    answers.which,
    answers.sites,
    answers.spare,
    answers.headroom,
    answers.advice,
    *light.LIGHT,
    answers.ask,
    files.history,
    files.undo,
    files.verify,
    files.publish,
    files.pending,
    *keep.KEEPING,
    start.plugins,
)

EPILOG = """Exit codes: 0 done; 1 it could not be done, the message says why; 2 the command was misspelt;
3 done, but something wants attention (damage found, problems in a dry run)."""


class InOrder(click.Group):
    """Commands listed in the order of the work rather than by letter."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the commands as they were added."""
        return list(self.commands)


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


for command in COMMANDS:
    cli.add_command(command)


def main(args: Sequence[str] | None = None) -> None:
    """Run a command and end the process with its exit code; never a traceback for what a user can cause."""
    words = list(sys.argv[1:] if args is None else args)
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(AttributeError, ValueError):
            stream.reconfigure(errors="replace")  # type: ignore[union-attr]  # consoles that know few letters
    from fibrebook.records.cold import leave_pandas_out

    leave_pandas_out()
    try:
        code = cli.main(words, prog_name="fibrebook", standalone_mode=False)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except click.exceptions.Abort:
        click.echo("stopped", err=True)
        sys.exit(130)
    except FibrebookError as error:
        report_error(error, as_json="--json" in words)
        sys.exit(1)
    except BrokenPipeError:
        sys.stderr.close()  # the reader of our output has gone
        sys.exit(0)
    sys.exit(code if isinstance(code, int) else 0)
