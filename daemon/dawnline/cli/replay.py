"""`dawnline replay`: recorded readings (and acts) through the pipeline."""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections import deque
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from dawnline import recording
from dawnline.cli.replay_acts import read_acts
from dawnline.contract import line, rounded
from dawnline.errors import SettingsError
from dawnline.event import Act, Day, Effect, Forecast, Keep, Problem, Transition, Verdict
from dawnline.pipeline import Pipeline
from dawnline.reading import Flag
from dawnline.recording import RowProblem
from dawnline.review.text import alarm_text, day_table
from dawnline.service.fold import make_pipeline
from dawnline.settings import Settings, find_config, load

if TYPE_CHECKING:
    from dawnline.service.replay_store import ReplayStore


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    parser.epilog = (
        "Exit status: 1 where rows or acts could not be used (the rest is); a column that names no probe is only said."
    )
    parser.add_argument("csv", metavar="CSV", help="recorded readings: a column `time` and one for each probe")
    parser.add_argument("--acts", metavar="FILE.jsonl", help="what was done meanwhile: one JSON object a line")
    parser.add_argument("--json", action="store_true", help="one JSON object a line")
    parser.add_argument("--store", metavar="PATH", help="also fill this new store, ready for `dawnline run`")


def run(args: argparse.Namespace) -> int:
    """Run it."""
    settings = load(find_config(args.config))
    with ExitStack() as stack:
        stream = stack.enter_context(_open(Path(args.csv)))
        acts, unread = read_acts(Path(args.acts), settings.pond.zone) if args.acts is not None else ([], [])
        pipeline = make_pipeline(settings)
        report = JsonReport(settings) if args.json else PlainReport(settings)
        new_store = _new_store(Path(args.store), settings, stack) if args.store is not None else None
        started = time.perf_counter()
        for problem in unread:
            report.problem(problem, act=True)
        names = [probe.name for probe in settings.probes]
        for effects in steps(pipeline, recording.read(stream, names, settings.pond.zone), acts, report):
            if new_store is not None:
                new_store.take(effects, pipeline)
        if new_store is not None:
            new_store.finish(pipeline)
        repeats = sum(watch.judge.order.repeats for watch in pipeline.watches.values())
        report.summary(repeats, time.perf_counter() - started)
    return 1 if report.refused else 0


def steps(
    pipeline: Pipeline, items: Iterator[recording.Item], acts: Sequence[Act], report: Report
) -> Iterator[list[Effect]]:
    """Fold samples and acts, both in order of time; gives each step's effects, having told the report of them."""
    pending = deque(acts)
    step, take = pipeline.step, report.take
    for item in items:
        if isinstance(item, RowProblem):
            report.problem(item)
            continue
        while pending and pending[0].at <= item.received_at:
            effects = step(pending.popleft())
            take(effects)
            yield effects
        effects = step(item)
        take(effects)
        yield effects
    for act in pending:
        effects = step(act)
        take(effects)
        yield effects
    report.take(pipeline.finish())


class Report:
    """Counts what comes; its children print it."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.zone = settings.pond.zone
        self.flags = dict.fromkeys(Flag, 0)
        self.raised = 0
        self.refused = 0

    def take(self, effects: list[Effect]) -> None:
        """Take the effects of one step."""
        for effect in effects:
            if type(effect) is Keep:
                self.flags[effect.reading.flag] += 1
                continue
            if isinstance(effect, Transition) and effect.change == "raised":
                self.raised += 1
            if isinstance(effect, Verdict):
                if not effect.accepted:
                    file, _, number = effect.act.id.rpartition(":")
                    self.problem(RowProblem(int(number), f"{file}, line {number}: {effect.text}"), act=True)
                continue
            self.show(effect)

    def problem(self, problem: RowProblem, *, act: bool = False) -> None:
        """Something that cannot be used: a row or, with its file and line in its text, an act."""
        self.refused += 0 if problem.harmless else 1
        self.show_problem(problem, act=act)

    def figures(self, repeats: int, seconds: float) -> dict[str, Any]:
        """The summary's figures."""
        return {
            "readings": sum(self.flags.values()),
            "good": self.flags[Flag.GOOD],
            "suspect": self.flags[Flag.SUSPECT],
            "fail": self.flags[Flag.FAIL],
            "not_evaluated": self.flags[Flag.NOT_EVALUATED],
            "repeated": repeats,
            "alarms": self.raised,
            "problems": self.refused,
            "seconds": rounded(seconds, 3),
        }

    def show(self, effect: Effect) -> None:
        """Print one effect."""
        raise NotImplementedError

    def show_problem(self, problem: RowProblem, *, act: bool) -> None:
        """Print one problem."""
        raise NotImplementedError

    def summary(self, repeats: int, seconds: float) -> None:
        """Print the end."""
        raise NotImplementedError


class JsonReport(Report):
    """The contract's JSON lines."""

    def __init__(self, settings: Settings) -> None:
        super().__init__(settings)
        self.first = True

    def write(self, data: dict[str, Any]) -> None:
        """One object; the first carries the version of this form."""
        if self.first:
            data, self.first = {"version": 1, **data}, False
        sys.stdout.write(json.dumps(data, ensure_ascii=False) + "\n")

    def show(self, effect: Effect) -> None:
        """As `Report.show`."""
        data = line(effect, self.zone)
        if data is not None:
            self.write(data)

    def show_problem(self, problem: RowProblem, *, act: bool) -> None:
        """As `Report.show_problem`."""
        self.write({"event": "problem", "row": problem.row, "text": problem.text})

    def summary(self, repeats: int, seconds: float) -> None:
        """As `Report.summary`."""
        self.write({"event": "summary", **self.figures(repeats, seconds)})


class PlainReport(Report):
    """For people: the alarms as they come, then the days."""

    def __init__(self, settings: Settings) -> None:
        super().__init__(settings)
        self.days: list[Day] = []
        self.buffer = ""

    def show(self, effect: Effect) -> None:
        """As `Report.show`."""
        if isinstance(effect, Day):
            self.days.append(effect)
        elif isinstance(effect, Forecast) and effect.about == "buffer":
            self.buffer = effect.body["text"]
        elif isinstance(effect, Transition):
            print(alarm_text(effect, self.zone))
        elif isinstance(effect, Problem):
            print(f"problem: {effect.text}")

    def show_problem(self, problem: RowProblem, *, act: bool) -> None:
        """As `Report.show_problem`."""
        print(problem.text if act else f"row {problem.row}: {problem.text}", file=sys.stderr)

    def summary(self, repeats: int, seconds: float) -> None:
        """As `Report.summary`."""
        print(day_table(self.days, self.zone))
        if self.buffer:
            print(f"buffer, on the last morning: {self.buffer}")
        told = ", ".join(f"{value} {name.replace('_', ' ')}" for name, value in self.figures(repeats, seconds).items())
        print(told)


def _open(path: Path) -> TextIO:
    try:
        return path.open(encoding="utf-8-sig", errors="replace", newline="")
    except OSError as error:
        raise SettingsError(f"{path}: cannot be read ({error.strerror}), expected a CSV file of readings") from None


def _new_store(path: Path, settings: Settings, stack: ExitStack) -> ReplayStore:
    from dawnline.service.replay_store import ReplayStore

    if path.is_dir():
        raise SettingsError(f"{path}: found a directory, expected the file of a new store, such as pond.db")
    new_store = ReplayStore(path, settings)
    stack.callback(new_store.close)

    def ended(kind: type[BaseException] | None, *_: object) -> None:
        if kind is not None and new_store.store.cursor() is not None:
            print(f"{path}: holds only a part of the recording now: delete it before you try again", file=sys.stderr)

    stack.push(ended)
    return new_store
