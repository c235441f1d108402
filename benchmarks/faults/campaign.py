"""Trials: a work is killed, looked at, started again, killed again, until it is through; one line for each kill."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from statistics import median
from typing import Any

from faults.aftermath import Recorder, Undisturbed, bundled, look, state_of
from faults.grounds import PROCESS, Ground, Grounds
from faults.worker import Told, worked
from faults.works import BACKUP, Work, doing
from soakage.store.address import address

_TRIALS = 10  # after which the length is measured anew: other work on the machine comes and goes
MOST_KILLS = 4  # in one trial; then it may run to its end

Line = dict[str, Any]


@dataclass(slots=True)
class Campaign:
    """The trials of one work on one engine.

    Parameters
    ----------
    work : Work
        What is killed.
    grounds : Grounds
        Where.
    seed : int
        Of all moments.
    measured : int
        Undisturbed runs whose median is the work's length; none where it is not killed after a time.
    """

    work: Work
    grounds: Grounds
    seed: int
    measured: int = 3
    before: Ground = field(init=False)
    undisturbed: Undisturbed = field(init=False)

    def __post_init__(self) -> None:
        self.before = self.grounds.new()
        self.work.prepare(self.before)
        self.undisturbed = self._measured()

    def _measured(self) -> Undisturbed:
        """Run without a kill: once in this process to note every state, then as workers do to measure the time."""
        ground = self.grounds.new(self.before)
        recorder = Recorder(ground)
        self.work.do(ground, recorder)
        recorder.look()
        undisturbed = Undisturbed(recorder.states)
        if self.work.files:
            for path in (ground.folder / self.work.files).iterdir():
                undisturbed.files[path.name] = "" if path.name == BACKUP else bundled(path)
        self.grounds.remove(ground)
        if self.measured:
            undisturbed.seconds = median(self._once() for _ in range(self.measured))
        return undisturbed

    def _once(self) -> float:
        ground = self.grounds.new(self.before)
        told = worked(doing(self.work, ground))
        self.grounds.remove(ground)
        if not told.finished:
            raise RuntimeError(f"{self.work.name} does not even run undisturbed. {told.refused}{told.broken}")
        return told.seconds

    def close(self) -> None:
        """Take away what trials began with."""
        self.grounds.remove(self.before)

    def trial(self, number: int) -> list[Line]:
        """Do one trial.

        Parameters
        ----------
        number : int
            Its number; together with the seed it settles the moments.

        Returns
        -------
        list of dict
            One for each kill.
        """
        if self.measured and number % _TRIALS == 0:
            self.undisturbed.seconds = median(self._once() for _ in range(self.measured))
        draw = random.Random(f"{self.seed} {self.work.name} {self.grounds.engine} {number}")  # noqa: S311
        ground = self.grounds.new(self.before)
        lines = [
            {"work": self.work.name, "engine": self.grounds.engine, "seed": self.seed, "trial": number} | line
            for line in self._killed(ground, draw)
        ]
        if not any(line["lost"] or line["half"] or line["repair"] for line in lines):
            self.grounds.remove(ground)
        return lines

    def _killed(self, ground: Ground, draw: random.Random) -> Iterator[Line]:
        # what stood there before was acknowledged once too
        acks: list[dict[str, Any]] = [{"entries": sorted(self.undisturbed.states[0].entries)}]
        lines: list[Line] = []
        while True:
            names, shares = zip(*self.grounds.ways, strict=True)
            way = draw.choices(names, shares)[0]
            moment = draw.uniform(0.0, self.undisturbed.seconds) if len(lines) < MOST_KILLS else None
            struck: list[str] = []

            def kill(way: str = way, struck: list[str] = struck) -> bool:
                struck.append(way)
                self.grounds.kill(way, ground)
                return way == PROCESS

            told = worked(doing(self.work, ground), after=moment, kill=kill)
            acks += told.acks
            self.grounds.back()
            if struck:
                lines.append(self._line(ground, way, moment or 0.0, told, acks))
            elif not lines and not told.finished:
                raise RuntimeError(f"{self.work.name} broke without a kill. {told.refused}{told.broken}")
            elif not told.finished:
                lines[-1]["repair"].append(told.refused or told.broken or "It ended without a word.")
            if told.finished or lines[-1]["repair"]:
                break
        if lines:
            lines[-1]["end"] = "as undisturbed" if self._as_undisturbed(ground) else "ANOTHER"
            if lines[-1]["end"] == "ANOTHER":
                lines[-1]["half"].append("At its end the work gave another state than an undisturbed run.")
        yield from lines

    def _line(self, ground: Ground, way: str, moment: float, told: Told, acks: list[dict[str, Any]]) -> Line:
        shown = str(address(ground.address))
        line: Line = {
            "killed": way,
            "at_s": round(moment, 4),
            "length_s": round(self.undisturbed.seconds, 4),
            "during": told.marks[-1] if told.marks else "the start",
            "finished": told.finished,
            "said": told.refused.replace(shown, "STORE").replace(str(ground.folder), "FOLDER"),
            "acknowledged": 0, "state": None, "states": len(self.undisturbed.states),
            "lost": [], "half": [], "repair": [],
        }  # fmt: skip
        if told.broken:
            line["repair"].append(told.broken)
        try:
            found = look(self.work, ground, acks, self.undisturbed)
        except Exception as problem:  # noqa: BLE001 - whatever keeps the store from being opened is what is sought
            line["repair"].append(f"{type(problem).__name__}: {problem}")
        else:
            line |= {"acknowledged": found.held, "state": found.place, "lost": found.lost, "half": found.half}
        return line

    def _as_undisturbed(self, ground: Ground) -> bool:
        if state_of(ground) != self.undisturbed.states[-1]:
            return False
        if not self.work.files:
            return True
        return {path.name for path in (ground.folder / self.work.files).iterdir()} == set(
            self.undisturbed.files
        )
