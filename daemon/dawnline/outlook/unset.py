"""An unset clock: how long it has been so, and what can be judged meanwhile.

Until the clock is known to be set, pond time is provisional: it goes on from the record. How long a sample is old by
its sender's clock cannot be told then; that it is of now can be: its sender's time and ours advance together.
"""

from __future__ import annotations

from collections.abc import Container, Iterable
from typing import Final

from dawnline.duration import DAY_MS, SECOND_MS, show_duration
from dawnline.event import Priority
from dawnline.outlook.finding import Condition, Finding
from dawnline.outlook.watch import Watch
from dawnline.reading import Sample

STEADY_MS: Final = 5 * SECOND_MS  # by how much the way of a live sample may vary; common practice, no source
CAVEAT: Final = "the clock is not set, times are provisional"


class Unset:
    """Since when pond time is provisional, in ms of it; None where the clock is set.

    Not part of a saved memory: that of a provisional stretch is built anew from its readings.
    """

    def __init__(self) -> None:
        self.since: int | None = None
        self._lags: dict[str, int] = {}  # by probe: received less the sender's time [ms] of the last sample

    def begin(self, at: int, watches: Iterable[Watch], alarms: Container[tuple[str, str | None]]) -> None:
        """From `at` [ms] on time is provisional, and how long nobody watched is not known.

        Silence counts from here, but of a probe that was silent already: `alarms` are those remembered.
        """
        self.since = at
        for watch in watches:
            watch.begin_unset(at)
            if ("no-data", watch.probe) not in alarms:
                watch.silence.heard_at = at

    def judged(self, sample: Sample) -> Sample:
        """The sample as it is to be judged: at the time it was received, and as undated where it may be an old one.

        Of a queue that a broker empties, the senders' times advance faster than ours.
        """
        if sample.at == sample.received_at:
            return sample
        lag = sample.received_at - sample.at
        before = self._lags.get(sample.probe)
        self._lags[sample.probe] = lag
        steady = before is not None and abs(lag - before) <= STEADY_MS
        return sample._replace(at=sample.received_at, dated=sample.dated and steady)

    def finding(self, at: int) -> Finding:
        """How the clock stands at `at`."""
        if self.since is None:
            return Finding(
                "clock-unset", None, at, Condition.CLEAR, None, "the clock is set; the times of readings are right"
            )
        lasted = at - self.since
        text = f"for {show_duration(lasted)} now the clock is not known to be set; times are provisional"
        priority: Priority | None = "medium" if lasted >= DAY_MS else None
        return Finding("clock-unset", None, at, Condition.MET, None, text, priority, since=self.since)

    def marked(self, finding: Finding) -> Finding:
        """The finding, with a word about the clock where that is not set."""
        if self.since is None:
            return finding
        return finding._replace(evidence=f"{finding.evidence}; {CAVEAT}" if finding.evidence else CAVEAT)
