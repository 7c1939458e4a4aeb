"""One pH probe as an electrode: what it measures becomes pH, by the calibration in force and the water's warmth."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar, Final

from dawnline.duration import DAY_MS, HOUR_MS, show_duration
from dawnline.electrode.acceptance import judge
from dawnline.electrode.calibration import MV, STANDARD_C, Calibration, Point, fit
from dawnline.electrode.drift import LIMIT
from dawnline.electrode.due import due
from dawnline.electrode.history import Check, Comparison, History
from dawnline.electrode.nernst import NEUTRAL
from dawnline.electrode.settings import CalibrationSettings
from dawnline.errors import InputError
from dawnline.state import Stateful

FRESH_MS: Final = HOUR_MS  # an older temperature is spoken of as the last known
REMINDED_MS: Final = DAY_MS  # how long an unfinished calibration is spoken of


class Electrode(Stateful):
    """Converts and remembers. `compensated` is whether a thermometer was configured to go with it."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "history", "temperature_c", "temperature_at", "work_until", "unfinished_at", "reasons",
    )  # fmt: skip

    def __init__(
        self, quantity: str, settings: CalibrationSettings | None = None, *, compensated: bool = False
    ) -> None:
        self.quantity = quantity
        self.settings = settings or CalibrationSettings()
        self.compensated = compensated
        self.history = History(quantity)
        self.temperature_c: float | None = None
        self.temperature_at = 0
        self.work_until = 0  # a calibration that promised an outcome is under way until then; 0: none is
        self.unfinished_at = 0  # when one came back by itself without an outcome
        self.reasons: list[str] = []  # why a calibration is due
        self._tune()

    def restore(self, saved: dict[str, Any]) -> None:
        """As `Stateful.restore`."""
        super().restore(saved)
        self._tune()

    # ------------------------------------------------------------ measured to pH

    def ph(self, measured: float) -> float:
        """pH of what the probe measured [mV or pH], by what holds now."""
        return measured if self._as_measured else NEUTRAL + (measured - self._at_neutral) / self._gain

    def change_ph(self, measured: float) -> float:
        """A change of what was measured, as a change of pH."""
        return measured if self._as_measured else measured / self._gain

    def warm(self, at: int, celsius: float) -> None:
        """The thermometer that goes with it has measured this [degC]."""
        self.temperature_c, self.temperature_at = celsius, at
        if self.quantity == MV:
            self._gain = self.in_force.gain(celsius)

    @property
    def in_force(self) -> Calibration:
        """The calibration in force; the ideal one until somebody has calibrated."""
        return self.history.in_force

    @property
    def celsius(self) -> float:
        """The temperature that readings are compensated for [degC]: measured, else last known, else 25."""
        return STANDARD_C if self.temperature_c is None else self.temperature_c

    def compensation(self, at: int) -> str:
        """In words, what the temperature rests on."""
        if self.quantity != MV:
            return "by the probe itself"
        if self.temperature_c is None:
            why = "the thermometer has not spoken yet" if self.compensated else "no thermometer is configured for it"
            return f"{STANDARD_C:g} degC assumed: {why}"
        if at - self.temperature_at > FRESH_MS:
            return f"{self.temperature_c:.1f} degC, last known {show_duration(at - self.temperature_at)} ago"
        return f"{self.temperature_c:.1f} degC measured"

    def _tune(self) -> None:
        now = self.in_force
        self._as_measured = self.quantity != MV and now.never
        self._gain = now.gain(self.celsius)
        self._at_neutral = now.measured(NEUTRAL, self.celsius)

    # ------------------------------------------------------------ what the keeper does

    def begin(self, at: int, until: int) -> None:
        """Work has begun that is to end with a calibration or a check before `until`."""
        self.work_until, self.unfinished_at = until, 0
        self.look(at)

    def end(self, at: int) -> None:
        """Work has ended, however."""
        self.work_until = self.unfinished_at = 0
        self.look(at)

    def calibrate(self, points: Sequence[Point], at: int) -> str:
        """Fit, judge and set in force; gives what was found, in words.

        Raises InputError with the reason where it is refused: nothing has changed then.
        """
        found = fit(points, at, self.in_force)
        judgement = judge(found)
        if not judgement.kept:
            raise InputError(str(judgement))
        self.history.keep(found)
        self._tune()
        self.end(at)
        return f"in force: {describe(found)}; {judgement}"

    def adjusted(self, at: int, name: str, now: int) -> None:
        """It was calibrated at its own transmitter at `at`, as the act of this `name` said: it shows pH as it is."""
        self.history.keep(Calibration(self.quantity, at=at, name=name))
        self._tune()
        self.end(now)

    def take_back(self, name: str, now: int) -> bool:
        """What the act of this name told of never was; whether anything was known of it."""
        found = self.history.take_back(name)
        if found:
            self._tune()
            self.look(now)
        return found

    def check(self, point: Point, at: int) -> str:
        """A quick check in one buffer: noted, nothing adjusted. Gives what was found, in words.

        Raises InputError where it is so far off that no record is corrected by it: it is not noted then.
        """
        read = self.in_force.ph(point.measured, point.temperature_c)
        if abs(read - point.buffer_ph) > LIMIT:
            raise InputError(
                f"it reads pH {read:.2f} in a buffer of {point.buffer_ph:.2f}: did it stand in the buffer that was "
                "named? If it did, clean it and see to its plug; it may be broken"
            )
        self.history.checks.append(Check(at, point.buffer_ph, read, point.temperature_c))
        self.end(at)
        off = round(read - point.buffer_ph, 2) + 0.0  # no minus before a zero
        return f"noted: it reads pH {read:.2f} in a buffer of {point.buffer_ph:.2f} ({off:+.2f})"

    def compare(self, at: int, by_hand: float, by_probe: float) -> None:
        """A test by hand beside what the probe says now [pH]."""
        self.history.hand_tests.append(Comparison(at, by_hand, by_probe))
        self.look(at)

    def amend(self, at: int, by_hand: float | None, now: int) -> float | None:
        """The test by hand of `at` was corrected, or taken back; gives what the probe said then, if it is known."""
        tests = self.history.hand_tests
        found = next((row for row in tests if row[0] == at), None)
        if found is None:
            return None
        kept = [row for row in tests if row[0] != at or by_hand is not None]
        tests.clear()
        tests.extend(row if row[0] != at or by_hand is None else Comparison(at, by_hand, found[2]) for row in kept)
        self.look(now)
        return found[2]

    # ------------------------------------------------------------ time

    def minute(self, at: int) -> None:
        """A whole minute has passed."""
        if 0 < self.work_until <= at:
            self.unfinished_at, self.work_until = self.work_until, 0
            self.look(at)
        elif at % HOUR_MS == 0:
            self.look(at)

    def look(self, at: int) -> None:
        """Whether a calibration is due: looked at hourly and after each act, since it changes slowly."""
        if at - self.unfinished_at > REMINDED_MS:
            self.unfinished_at = 0
        self.reasons = due(self.history, at, self.settings)
        if self.unfinished_at:
            self.reasons.insert(0, "it came back into service by itself, and its calibration was not finished")


def describe(calibration: Calibration) -> str:
    """A calibration in words."""
    if calibration.name:
        return "as it shows it, calibrated at its own transmitter"
    unit = "mV" if calibration.quantity == MV else "pH"
    offset = f"{calibration.offset:+.1f} mV" if unit == "mV" else f"{calibration.offset:+.2f} pH"
    return f"slope {calibration.slope:.1f} %, offset {offset} at pH 7, zero point pH {calibration.zero_point_ph:.2f}"
