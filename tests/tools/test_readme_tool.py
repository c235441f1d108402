"""The README is read as a person reads it: its first section, its commands, what it promises."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tools import readme
from tools.readme import commands, first_section, promised_status
from tools.steps import StepFailedError

PYTHON = f'"{sys.executable}"'

TEXT = """\
# Name

A paragraph; ends with exit status 3.

```
first --option
```

```sh
second
```

## Next

```
third
```
"""


def test_the_first_section_ends_at_the_second_heading() -> None:
    assert commands(first_section(TEXT)) == ["first --option", "second"]


def test_commands_are_read_from_every_block() -> None:
    assert commands(TEXT) == ["first --option", "second", "third"]


def test_the_promise_is_read() -> None:
    assert promised_status(first_section(TEXT)) == 3


def test_no_promise_is_a_failure() -> None:
    with pytest.raises(StepFailedError, match="exit status"):
        promised_status("# Name\n")


@pytest.fixture
def project(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that is no git clone, so that it is copied as it is."""
    monkeypatch.setattr(readme, "ROOT", tmp_path)
    (tmp_path / "make.py").write_text(
        "from pathlib import Path\nPath('soakage-demo').mkdir()\n"
        "Path('soakage-demo/report.pdf').write_bytes(b'%PDF')\n",
        encoding="utf-8",
    )
    return tmp_path


def write(folder: Path, command: str, status: int = 0) -> None:
    (folder / "README.md").write_text(
        f"# N\n\nexit status {status}\n\n```\n{command}\n```\n", encoding="utf-8"
    )


def test_a_command_that_keeps_its_word_passes(project: Path, capfd: pytest.CaptureFixture[str]) -> None:
    write(project, f"{PYTHON} make.py")
    readme.check()
    assert "1 PDF, exit status 0" in capfd.readouterr().out
    assert not (project / "soakage-demo").exists()


def test_an_exit_status_that_was_not_promised_fails(project: Path) -> None:
    write(project, f"{PYTHON} make.py", status=2)
    with pytest.raises(StepFailedError, match="exit status 0, promised 2"):
        readme.check()


def test_a_command_that_leaves_no_paper_fails(project: Path) -> None:
    write(project, f"{PYTHON} -c pass")
    with pytest.raises(StepFailedError, match="no PDF"):
        readme.check()


def test_what_was_made_before_does_not_count(project: Path) -> None:
    (project / "soakage-demo").mkdir()
    (project / "soakage-demo" / "old.pdf").write_bytes(b"%PDF")
    write(project, f"{PYTHON} -c pass")
    with pytest.raises(StepFailedError, match="no PDF"):
        readme.check()


def test_only_what_is_committed_counts(project: Path, capfd: pytest.CaptureFixture[str]) -> None:
    write(project, f"{PYTHON} make.py")
    git = ["git", "-c", "user.name=N", "-c", "user.email=n@example.invalid", "-C", str(project)]
    subprocess.run([*git, "init", "--quiet"], check=True)
    subprocess.run([*git, "add", "README.md"], check=True)
    subprocess.run([*git, "commit", "--quiet", "-m", "without make.py"], check=True)
    with pytest.raises(StepFailedError, match="promised 0"):
        readme.check()
    assert "not committed" in capfd.readouterr().out


def test_where_git_will_not_clone_the_folder_is_copied(
    project: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    write(project, f"{PYTHON} make.py")
    (project / ".git").mkdir()
    readme.check()
    assert "a copy of the folder is used" in capfd.readouterr().out
