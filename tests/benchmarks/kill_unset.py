"""Kill test of an unset clock: SIGKILL before, while and after the readings of a provisional stretch are dated.

    python tests/benchmarks/kill_unset.py --trials 10

As kill.py, in true time: a real broker, the real service, 50 messages a second. The file that says that the clock is
set appears in the midst of it, and the service is killed a moment later. Afterwards every message that the broker took
must stand in the record exactly once, in the order in which it was sent, and at the time at which it was.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from contextlib import ExitStack
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from kill import CONFIGURATION, Publisher
from stage import Broker, free_port, wait_for

from dawnline.reading import Reading
from dawnline.store.reader import Reader

MOMENTS_S = (0.2, 1.2)  # after the clock is known; it is looked at once a second
CLOCK = '[clock]\ntrust = "mark"\nmark = "{mark}"\n'
ROUNDS = 10
WAIT_MS = 10_000  # a message may wait for its subscriber to come back


@dataclass
class Result:
    """What was counted, over all trials."""

    kills: int = 0
    published: int = 0
    lost: int = 0
    doubled: int = 0
    disordered: int = 0
    at_wrong_times: int = 0

    @property
    def well(self) -> bool:
        """Nothing lost, doubled, out of order or at a wrong time."""
        return self.published > 0 and not (self.lost or self.doubled or self.disordered or self.at_wrong_times)


def run(trials: int, seed: int) -> Result:
    """The whole test."""
    dice, result = random.Random(seed), Result()
    for _ in range(trials):
        with ExitStack() as stack:
            _trial(Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="dawnline-kill-"))), dice, result, stack)
    return result


def _trial(folder: Path, dice: random.Random, result: Result, stack: ExitStack) -> None:
    mark, log = folder / "clock-is-set", (folder / "service.log").open("wb")
    stack.enter_context(log)
    broker = Broker(folder / "broker")
    stack.callback(broker.down)
    config = folder / "dawnline.toml"
    config.write_text(
        CONFIGURATION.format(port=broker.port, hook=free_port()) + CLOCK.format(mark=mark), encoding="utf-8"
    )
    environment = {**os.environ, "RUNTIME_DIRECTORY": str(folder)}

    def start() -> subprocess.Popen[bytes]:
        words = [sys.executable, "-m", "dawnline.cli", "--config", str(config), "run"]
        return subprocess.Popen(words, env=environment, stdout=subprocess.DEVNULL, stderr=log)

    service = start()
    stack.callback(lambda: (service.kill(), service.wait()))
    wait_for(lambda: b"connected" in (folder / "service.log").read_bytes(), "the first subscription")
    begun_ms, publisher = time.time() * 1000, Publisher(broker.port)
    for pause in (dice.uniform(1.0, 2.0), dice.uniform(*MOMENTS_S), dice.uniform(*MOMENTS_S), dice.uniform(1.0, 2.0)):
        time.sleep(pause)
        service.send_signal(signal.SIGKILL)
        service.wait()
        service = start()
        result.kills += 1
        if result.kills % 4 == 1:
            wait_for(lambda: (folder / "service.log").read_bytes().count(b'"watching"') > 1, "the second start")
            mark.touch()
    publisher.finish()
    for _ in range(ROUNDS):  # what the broker still has comes when it comes; the last of it is committed by a stop
        time.sleep(2.0)
        service.send_signal(signal.SIGTERM)
        service.wait(10)
        if publisher.acknowledged <= {each.value for each in _record(folder)}:
            break
        service = start()
    _count(_record(folder), publisher.acknowledged, (begun_ms, time.time() * 1000), result)


def _record(folder: Path) -> list[Reading]:
    with Reader.open(folder / "pond.db") as reader:
        return list(reader.readings("ph", 0, 1 << 60))


def _count(record: list[Reading], published: set[float], span: tuple[float, float], result: Result) -> None:
    found = Counter(each.value for each in record)
    numbers = [round(each.value % 1e-3 * 1e8) for each in record]  # see Publisher: the last digits count the messages
    result.published += len(published)
    result.lost += len(published - set(found))
    result.doubled += sum(times - 1 for times in found.values())
    result.disordered += sum(later < earlier for earlier, later in pairwise(numbers))
    for each, number in zip(record, numbers, strict=True):
        sent = span[0] + number * 20
        result.at_wrong_times += not sent - 1000 <= each.at <= min(sent + WAIT_MS, span[1])


def main() -> int:
    """Run it from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trials", type=int, default=10)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    result = run(args.trials, args.seed)
    print(f"{result.kills} kills, {result.published} messages acknowledged by the broker")
    print(f"lost {result.lost}, doubled {result.doubled}, out of order {result.disordered}, "
          f"at a wrong time {result.at_wrong_times}")  # fmt: skip
    return 0 if result.well else 1


if __name__ == "__main__":
    sys.exit(main())
