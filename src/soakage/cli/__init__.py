"""The command line: parse, call, show.  Each command is loaded only when it runs."""

from __future__ import annotations

import importlib
import keyword
import os
import sys

import click

from soakage import __version__
from soakage.errors import InputError, SoakageError

COMMANDS = {
    "plan": "Plan a test: voltage, connections, marks, criteria, cautions; a card to take along.",
    "judge": "Judge record files against published criteria.",
    "report": "Write the report of record files: PDF, HTML or XLSX.",
    "recipe": "Guess, correct and try a column recipe: how a table of your own becomes records.",
    "import": "Take record files into the store: judged, kept, duplicates passed over.",
    "list": "List the assets and tests of the store.",
    "show": "Show one asset with its history, or one test with its verdicts.",
    "register": "Add and edit assets, sections, sites, instruments and people.",
    "note": "Add a note to an asset or a test.",
    "attach": "Keep a file with an asset or a test.",
    "event": "Note a rewind, refill, repair, cleaning or drying of an asset.",
    "amend": "Correct a test by a new revision with a reason.",
    "withdraw": "Withdraw a test: kept, marked, with a reason.",
    "sign": "Review tests, or sign them.",
    "rejudge": "Judge kept tests again by other rules; every verdict stays.",
    "purge": "Remove a test for good, after exporting it.",
    "export": "Write the store as open files, to be taken in elsewhere.",
    "bundle": "Write what the store holds, or a part of it, into one file for another store.",
    "merge": "Take bundles of other stores in: nothing is lost, nothing overwritten.",
    "push": "Send another store, through its server, what it does not hold.",
    "pull": "Take what another store holds, through its server, and this one does not.",
    "conflicts": "List what two people changed without seeing each other.",
    "settle": "Settle a conflict: one value stands, all stay in the trail.",
    "trend": "Show how an asset has changed over the years, and what the line would reach.",
    "due": "List what falls due for a test: a work list for an outage.",
    "trail": "Show who changed what, when and why; verify that nobody changed that.",
    "check": "Look for anything damaged, missing or left over in the store.",
    "backup": "Write the store into one verified file, while others work.",
    "restore": "Bring a backup back, verified before it replaces anything.",
    "explain": "Show formula, source and worked example of a quantity, criterion or rule.",
    "serve": "Open the pages in a browser on this machine.",
    "account": "Say who may log in where the pages are served to others.",
    "demo": "Write and judge the invented scenario.",
}
EXIT_UNUSABLE = 2
# Before numpy is loaded: its matrices are small here, and a second thread costs twice the work for no time.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


class LazyGroup(click.Group):
    """A group that imports a command when it is called, so that help is quick."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the commands in the order of the job."""
        del ctx
        return [*COMMANDS]  # a command is called list, and its module is a name of this package

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return a command, imported now."""
        del ctx
        if cmd_name not in COMMANDS:
            return None
        # a command may be called like a word of Python: import is in import_.py
        name = cmd_name.replace("-", "_") + ("_" if keyword.iskeyword(cmd_name) else "")
        command = importlib.import_module(f"soakage.cli.{name}").command
        return command if isinstance(command, click.Command) else None

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands without importing them."""
        del ctx
        with formatter.section("Commands"):
            formatter.write_dl([*COMMANDS.items()])


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="soakage")
def group() -> None:
    """Insulation tests under direct voltage: plan, judge, report.

    Local codes and licensed practice come first. Isolate, prove dead, keep clear, discharge, earth, wait.
    Start with 'soakage demo', or 'soakage plan --help'.
    """


def main() -> None:
    """Run the command line; errors are said in words, exit status 2."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        group(standalone_mode=False)
    except click.exceptions.Abort:
        click.echo("Stopped.", err=True)
        sys.exit(EXIT_UNUSABLE)
    except click.ClickException as problem:
        problem.show()
        sys.exit(EXIT_UNUSABLE)
    except InputError as problem:
        for fault in problem.faults:
            click.echo(str(fault), err=True)
        sys.exit(EXIT_UNUSABLE)
    except SoakageError as problem:
        click.echo(str(problem), err=True)
        sys.exit(EXIT_UNUSABLE)
    finally:
        # only where a store was used: help must not load what opens one
        if (memory := sys.modules.get("soakage.wiring.memory")) is not None:
            memory.close_stores()
