"""The words ``go.py`` understands."""

from __future__ import annotations

import importlib.util
import os
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Mapping

from tools import postgres, readme, system
from tools.environment import PYTHON, SCRIPTS, environment, prepare
from tools.steps import ROOT, StepFailedError, run, say, shown

USAGE = """\
python3 go.py                     set up, judge the invented readings of the demo, print a report, open the pages
python3 go.py test                the whole gate: style, types, floors, tests, documents, this README
python3 go.py test --keep-going   the same, but past what fails; says at the end what did
python3 go.py docs                build the documents
python3 go.py bench               run the benchmarks
python3 go.py lock                pin the packages anew (needs uv)"""


def main(arguments: list[str]) -> int:
    """Do what the command line asks.

    Parameters
    ----------
    arguments : list of str
        What stands after ``go.py``.

    Returns
    -------
    int
        Exit status: 0 done, 1 a step failed, 2 not understood.
    """
    words: dict[tuple[str, ...], Callable[[], None]] = {
        (): demo,
        ("test",): gate,
        ("test", "--keep-going"): lambda: gate(keep_going=True),
        ("docs",): docs,
        ("bench",): bench,
        ("lock",): lock,
    }
    action = words.get(tuple(arguments))
    if action is None:
        say(USAGE)
        return 0 if arguments in (["-h"], ["--help"], ["help"]) else 2
    try:
        action()
    except StepFailedError as error:
        say(f"\nSTOPPED. {error}")
        return 1
    except KeyboardInterrupt:
        say("\nStopped by you.")
        return 1
    return 0


def demo() -> None:
    """Set up and run the demo; its last lines are the last on the screen.

    Raises
    ------
    StepFailedError
        When the demo does not end with exit status 0.
    """
    prepare("run")
    command = SCRIPTS / ("soakage.exe" if sys.platform == "win32" else "soakage")
    # Not a timed step: what the demo prints is the end of what the reader sees.
    say("")
    done = subprocess.run(
        [str(command), "demo"], cwd=ROOT, env=environment(), stdin=subprocess.DEVNULL, check=False
    )
    if done.returncode != 0:
        raise StepFailedError(f"exit status {done.returncode} from\n  {shown([str(command), 'demo'])}")
    pages = [str(command), "serve"]
    if not (sys.stdin and sys.stdin.isatty() and sys.stdout.isatty()):
        say(f"The pages:    {shown(pages)}")
        return
    # A person sits here: the pages open and stay until Ctrl+C, which is no failure.
    say("")
    subprocess.run(pages, cwd=ROOT, env=environment(), check=False)


def docs() -> None:
    """Build the documents, a warning being an error; nothing in them may load from outside.

    Raises
    ------
    StepFailedError
        When a page loads something from an address.
    """
    prepare("test")
    built = ROOT / "docs" / "_build" / "html"
    # Anew each time: a page that is no longer made must not go on being checked.
    shutil.rmtree(built.parent, ignore_errors=True)
    _in_venv("Documents", "sphinx", "-W", "--keep-going", "-q", "-b", "html", "docs", str(built))
    loads = re.compile(
        r"<(?:script|img|iframe|source)[^>]+src=.https?:|<link[^>]+href=.https?:|url\(.?https?:"
    )
    files = [file for kind in ("*.html", "*.css") for file in built.rglob(kind)]
    outside = [file.name for file in files if loads.search(file.read_text(encoding="utf-8"))]
    if outside:
        raise StepFailedError(f"Documents: these load something from outside: {', '.join(outside)}")
    say(f"Open {built.relative_to(ROOT) / 'index.html'}")


def bench() -> None:
    """Run the benchmarks."""
    prepare("test")
    _in_venv("Benchmarks", "benchmarks/run.py")


def lock() -> None:
    """Pin every package with its hashes; no address is written.

    Raises
    ------
    StepFailedError
        When there is no uv.
    """
    if shutil.which("uv"):
        uv = ["uv"]
    elif importlib.util.find_spec("uv"):
        uv = [sys.executable, "-m", "uv"]
    else:
        raise StepFailedError("Pinning needs uv: install it (pip install uv), then run this again.")
    options = ["--universal", "--generate-hashes", "--no-header", "--no-annotate", "--no-emit-index-url"]
    compile_ = [*uv, "pip", "compile", "--quiet", "--upgrade", "--python-version", "3.11", *options]
    sources = ["pyproject.toml", "requirements/build.in"]
    run("Pin what runs", [*compile_, *sources, "-o", "requirements/run.txt"])
    extras = [
        "--extra",
        "office",
        "--extra",
        "test",
        "--extra",
        "docs",
        "--extra",
        "bench",
        "-c",
        "requirements/run.txt",
    ]
    run("Pin what tests", [*compile_, *sources, *extras, "-o", "requirements/test.txt"])


def gate(*, keep_going: bool = False) -> None:
    """Run the whole gate.

    Parameters
    ----------
    keep_going : bool
        Go past what fails and name it at the end.

    Raises
    ------
    StepFailedError
        At the first step that fails, or at the end when going on.
    """
    began = time.monotonic()
    system.install()
    prepare("test")
    failures: list[str] = []
    for step in _steps():
        try:
            step()
        except StepFailedError as error:
            if not keep_going:
                raise
            say(f"\nFAILED. {error}")
            failures.append(str(error))
    took = time.monotonic() - began
    if failures:
        raise StepFailedError(f"{len(failures)} failed in {took:.0f} s:\n" + "\n".join(failures))
    say(f"\nAll of the gate passed in {took:.0f} s.")


def _steps() -> list[Callable[[], None]]:
    code = [
        name for name in ("src", "tests", "tools", "docs", "benchmarks", "go.py") if (ROOT / name).exists()
    ]
    steps: list[Callable[[], None]] = [
        lambda: _in_venv("Style", "ruff", "check", *code),
        lambda: _in_venv("Layout", "ruff", "format", "--check", *code),
        lambda: _in_venv("Types", "mypy", *code),
        _floors,
        _tests,
        docs,
    ]
    if (ROOT / "benchmarks" / "run.py").exists():
        steps.append(lambda: _in_venv("Benchmarks, small", "benchmarks/run.py", "--smoke"))
    steps.append(readme.check)
    return steps


def _tests() -> None:
    try:
        with postgres.address() as server:
            say(
                f"\nPostgreSQL: {'as DATABASE_URL has it' if 'DATABASE_URL' in os.environ else 'started for this run'}"
            )
            _pytest({postgres.VARIABLE: server})
    except postgres.NoServerError as error:
        if os.environ.get("CI") == "true":
            raise
        say(f"\n{error}\nThe tests that need it will be skipped with that reason.")
        _pytest({})


def _pytest(variables: Mapping[str, str]) -> None:
    # coverage is asked for by hand (--cov): it costs half as much again
    command = [str(PYTHON), "-m", "pytest", "-n", "2", "--durations", "20"]
    run("Tests", command, env={**environment(), **variables})


def _floors() -> None:
    run("Floors", [str(SCRIPTS / "lint-imports"), "--no-cache"], env=environment())


def _in_venv(name: str, tool: str, *arguments: str) -> None:
    start = [tool] if tool.endswith(".py") else ["-m", tool]
    run(name, [str(PYTHON), *start, *arguments], env=environment())
