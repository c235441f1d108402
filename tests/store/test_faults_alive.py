"""Faults that leave the process alive, in the middle of each work: a full disk, a disk that may only be read, a lock
held by another, a server that stops at once. Told in words, nothing acknowledged is lost, the next run goes on.
"""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from faulting import (
    OUT,
    WORKS,
    Databases,
    Files,
    Ground,
    Heard,
    campaign_of,
    goes_on_to_its_end,
    nothing_lost,
    small_changes,
)
from soakage.errors import StoreError, UsageError
from soakage.store import engine as engines
from soakage.store.saying import DISK, FULL, LOCKED, LOST, READ_ONLY
from tools.postgres import Cluster, NoServerError, cluster
from trusting import raw

__all__ = ["small_changes"]

MAY_MOUNT = shutil.which("mount") is not None and os.geteuid() == 0
ROOM = 12 << 20
HOW = ("no file beyond a length", "full disk") if MAY_MOUNT else ("no file beyond a length",)


@contextmanager
def mounted(folder: Path) -> Iterator[Path]:
    """A small disk of its own."""
    folder.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={ROOM}", "soakage", str(folder)], check=True)
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


@contextmanager
def little_room(how: str, folder: Path, room: int) -> Iterator[None]:
    """Let so many bytes be written, or nothing beyond so many bytes of a file."""
    if how == "full disk":
        ballast = folder / "ballast"
        with ballast.open("wb") as file:
            os.posix_fallocate(file.fileno(), 0, shutil.disk_usage(folder).free - room)
        try:
            yield
        finally:
            ballast.unlink()
        return
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (room, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.mark.parametrize("how", HOW)
@pytest.mark.parametrize("work", WORKS)
def test_a_disk_that_takes_no_more(how: str, work: str, tmp_path: Path) -> None:
    inside = mounted(tmp_path / "small") if how == "full disk" else None
    folder = inside.__enter__() if inside is not None else tmp_path
    try:
        campaign = campaign_of(work, Files(folder))
        said: list[str] = []
        for room in (0, 60_000, 250_000):
            ground = campaign.grounds.new(campaign.before)
            heard = Heard()
            with little_room(how, folder, room):
                try:
                    campaign.work.do(ground, heard)
                except (StoreError, UsageError) as problem:
                    said.append(str(problem))
            nothing_lost(campaign, ground, heard.acks)
            if work == "bundle":
                assert not list((ground.folder / OUT).glob(".*"))
            goes_on_to_its_end(campaign, ground, heard.acks)
            campaign.grounds.remove(ground)
        assert said
        assert [text for text in said if not told(text)] == []
    finally:
        if inside is not None:
            inside.__exit__(None, None, None)


def told(text: str) -> bool:
    return any(sentence in text for sentence in (FULL, DISK, "No space left on device", "File too large"))


@pytest.mark.parametrize("work", ("import", "merge", "rejudge"))
def test_another_program_holds_the_store(work: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engines, "BUSY_SECONDS", 0.05)
    campaign = campaign_of(work, Files(tmp_path))
    ground = campaign.grounds.new(campaign.before)
    held = []

    def hold() -> None:
        held.append(raw(ground.address))
        held[0].execute("begin immediate")

    heard = Heard(3, "a change begins", hold)
    with pytest.raises(StoreError) as caught:
        campaign.work.do(ground, heard)
    held[0].close()
    assert LOCKED in str(caught.value)
    assert heard.acks  # something was kept before
    nothing_lost(campaign, ground, heard.acks)
    goes_on_to_its_end(campaign, ground, heard.acks)


@pytest.mark.skipif(
    not MAY_MOUNT, reason="only root mounts; shutil.which found no mount, or this is not root"
)
@pytest.mark.parametrize("work", ("import", "merge", "migration", "rejudge"))
def test_a_disk_that_may_only_be_read(work: str, tmp_path: Path) -> None:
    with mounted(tmp_path / "small") as folder:
        campaign = campaign_of(work, Files(folder))
        ground = campaign.grounds.new(campaign.before)
        stop = Heard(3, "a change begins", interrupt)
        if work != "migration":
            with pytest.raises(KeyboardInterrupt):
                campaign.work.do(ground, stop)
        subprocess.run(["mount", "-o", "remount,ro", str(folder)], check=True)
        with pytest.raises(StoreError) as caught:
            campaign.work.do(ground, Heard())
        assert READ_ONLY in str(caught.value)
        nothing_lost(campaign, ground, stop.acks)
        subprocess.run(["mount", "-o", "remount,rw", str(folder)], check=True)
        goes_on_to_its_end(campaign, ground, stop.acks)


def interrupt() -> None:
    raise KeyboardInterrupt


# A server that stops in the middle


@pytest.fixture(scope="module")
def server() -> Iterator[Cluster]:
    """A server of our own, for it is stopped."""
    try:
        with cluster() as made:
            yield made
    except NoServerError as problem:
        if os.environ.get("CI") == "true":
            raise
        pytest.skip(str(problem))


def stop_at_once(server: Cluster) -> None:
    command = [str(server.programs / "pg_ctl"), "stop", "-m", "immediate", "-D", str(server.data)]
    subprocess.run(command, check=True, user=server.account, cwd=server.folder, stdout=subprocess.DEVNULL)


@pytest.mark.parametrize(
    ("work", "mark", "at"),
    (
        ("import", "a change is written and committed", 2),
        ("merge", "in a change", 2),
        ("rejudge", "a change is written and committed", 3),
        ("migration", "the store is brought up to date", 1),
    ),
)
def test_a_server_that_stops_at_once_and_comes_back(
    work: str, mark: str, at: int, server: Cluster, tmp_path: Path
) -> None:
    campaign = campaign_of(work, Databases(tmp_path, server))
    ground: Ground = campaign.grounds.new(campaign.before)
    heard = Heard(at, mark, lambda: stop_at_once(server))
    with pytest.raises(StoreError) as caught:
        campaign.work.do(ground, heard)
    assert LOST in str(caught.value)
    server.stop()  # it is gone already: this only takes note of it
    server.start()
    nothing_lost(campaign, ground, heard.acks)
    goes_on_to_its_end(campaign, ground, heard.acks)
    campaign.grounds.remove(ground)
    campaign.close()
