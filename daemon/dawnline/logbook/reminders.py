"""What is due by the logbook: tests, shell, probe cleaning. Sooner where the buffer line says so, never later.

Calibration has an alarm of its own. The intervals are common practice, no source; so is `SHARE`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, tzinfo
from typing import Annotated, Any, Final, NamedTuple

from pydantic import AfterValidator, BaseModel, ConfigDict

from dawnline.duration import DAY_MS, TimeOfDay, local_date, minute_of_day, parse_duration, show_duration
from dawnline.event import Act
from dawnline.logbook.acts import Adjusted, Calibrated, Cleaning, Correct, Entry, HandTest, Media, Withdraw
from dawnline.logbook.ledger import about
from dawnline.state import Stateful

FULL_SET: Final = ("kh", "ammonia", "nitrite")  # a full set of tests has at least these
SHARE: Final = 3  # KH is tested so often until the day on which the dawn low may pass its limit
LEAST_MS: Final = DAY_MS
REMEMBERED: Final = 5  # times each thing was done last: a withdrawn one gives way to the one before


def _every(found: str) -> str:
    if found != "off":
        parse_duration(found)
    return found


Every = Annotated[str, AfterValidator(_every)]


class ReminderSettings(BaseModel):
    """`[reminders]`: how often each is due, "off" for never; told at `tell_at`, a time of day."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    kh_test: Every = "7d"
    full_test: Every = "30d"
    shell_swap: Every = "30d"
    probe_cleaning: Every = "14d"
    tell_at: TimeOfDay = "10:00"

    @property
    def tell_minute(self) -> int:
        """Minutes after midnight when they are told."""
        return minute_of_day(self.tell_at)


NONE: Final = ReminderSettings(kh_test="off", full_test="off", shell_swap="off", probe_cleaning="off")


class Reminder(NamedTuple):
    """One thing to do. `last` is when it was done [ms], None for never; it is due from `due_at` on.

    `text` says in words what is due, and since when; `record` is how it is noted.
    """

    name: str
    what: str
    last: int | None
    due_at: int
    every: int
    text: str
    record: str


class Reminders(Stateful):
    """When each thing was done last. `began` is when the watch began: what was never done is due from there.

    `words` are the catalogue's.
    """

    KEPT = ("began", "done")

    def __init__(
        self, settings: ReminderSettings, zone: tzinfo, probes: Sequence[str], words: Mapping[str, str]
    ) -> None:
        self.settings = settings
        self.words = words
        self.zone = zone
        self.probes = probes
        self.began = 0
        self.done: dict[str, list[tuple[int, str]]] = {}  # by what was done: time [ms], act

    def begin(self, at: int) -> None:
        """The watch is there at `at` [ms]."""
        self.began = self.began or at

    def take(self, act: Act, entry: Entry) -> None:
        """What an act in the logbook says was done."""
        at = about(entry, act.at)
        match entry:
            case Correct():
                self._forget(entry.entry)
                self.take(Act(entry.entry, entry.at, entry.kind, entry.body), entry.corrected)
            case Withdraw():
                self._forget(entry.entry)
            case HandTest():
                figures = {"kh": entry.kh_dkh, "ammonia": entry.tan_mg_l, "nitrite": entry.nitrite_mg_l}
                for name, figure in figures.items():
                    if figure is not None:
                        self._note(name, at, act.id)
            case Media():
                self._note("no shell" if entry.state == "removed" else "shell", at, act.id)
            case Cleaning() | Calibrated() | Adjusted():
                self._note(f"probe {entry.probe}", at, act.id)

    def all(self, buffer: Mapping[str, Any], at: int) -> list[Reminder]:
        """Every reminder there is, the most urgent first. `buffer` is the body of the latest forecast of the buffer."""
        today, words = local_date(at, self.zone), self.words
        kits = 'dawnline logbook add test "6 drops" ph=7.4'
        found = [
            self._of("kh-test", words["due_kh_test"], ["kh"], self._kh(buffer, today), kits),
            self._of(
                "full-test", words["due_full_test"], FULL_SET, (_ms(self.settings.full_test), ""),
                'dawnline logbook add test "6 drops" ammonia="0.1 mg/L N" nitrite="0.05 mg/L NO2"',
            ),
        ]  # fmt: skip
        shell, none = self._last("shell"), self._last("no shell")
        if shell is not None and (none is None or none < shell):
            found.append(
                self._of("shell-swap", words["due_shell_swap"], ["shell"], self._shell(buffer),
                         'dawnline logbook add shell amount="5 kg" state=swapped')
            )  # fmt: skip
        cleaning = _ms(self.settings.probe_cleaning), ""
        for probe in self.probes:
            record = f"dawnline logbook add cleaning probe={probe} for=20m"
            what = words["due_probe_cleaning"].format(probe=probe)
            found.append(self._of(f"probe-cleaning {probe}", what, [f"probe {probe}"], cleaning, record))
        return sorted((each for each in found if each.every), key=lambda each: (each.due_at, each.name))

    def due(self, buffer: Mapping[str, Any], at: int) -> list[Reminder]:
        """Those that are due at `at` [ms]."""
        return [each for each in self.all(buffer, at) if each.due_at <= at]

    def _of(self, name: str, what: str, needs: Sequence[str], every: tuple[int, str], record: str) -> Reminder:
        """A thing is done when all it needs is; the oldest counts. `every` is how often [ms], and why sooner."""
        times = [self._last(need) for need in needs]
        last = None if None in times else min(at for at in times if at is not None)
        due_at = (self.began if last is None else last) + every[0]
        text = self.words["due_sooner" if every[1] else "due"].format(
            what=what,
            last=self.words["due_never"] if last is None else self.words["due_last"].format(on=_day(last, self.zone)),
            due=_day(due_at, self.zone),
            every=show_duration(every[0]),
            why=every[1],
        )
        return Reminder(name, what, last, due_at, every[0], text, record)

    def _kh(self, buffer: Mapping[str, Any], today: date) -> tuple[int, str]:
        """How often to test KH [ms], and why more often than set."""
        every, earliest = _ms(self.settings.kh_test), buffer.get("earliest")
        if buffer.get("trend") != "falling":
            return every, ""
        if earliest is None:
            wanted, why = every // 2, self.words["sooner_falling"]
        else:
            days = max((date.fromisoformat(earliest) - today).days, 0)
            wanted, why = days * DAY_MS // SHARE, self.words["sooner_limit"].format(earliest=earliest)
        wanted = max(wanted, LEAST_MS)
        return (wanted, why) if wanted < every else (every, "")

    def _shell(self, buffer: Mapping[str, Any]) -> tuple[int, str]:
        """How often to swap shell [ms]: sooner where it does not keep up with what is used."""
        every = _ms(self.settings.shell_swap)
        if buffer.get("trend") == "falling" and buffer.get("earliest") is not None:
            return every // 2, self.words["sooner_shell"]
        return every, ""

    def _note(self, name: str, at: int, act: str) -> None:
        known = [row for row in self.done.get(name, []) if row[1] != act]
        self.done[name] = sorted([*known, (at, act)])[-REMEMBERED:]

    def _forget(self, act: str) -> None:
        self.done = {name: [row for row in rows if row[1] != act] for name, rows in self.done.items()}

    def _last(self, name: str) -> int | None:
        rows = self.done.get(name)
        return rows[-1][0] if rows else None


def _ms(every: str) -> int:
    """Milliseconds, 0 for never."""
    return 0 if every == "off" else parse_duration(every)


def _day(at: int, zone: tzinfo) -> str:
    return local_date(at, zone).isoformat()
