"""The form of the catalogue: every alarm with its priority, its timing and its texts. The data stand in catalogue.toml.

Nothing is read here: `catalogue_file` brings the file, and what the keeper says otherwise, as plain data.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Annotated, Any, Final

from pydantic import BaseModel, ConfigDict, Field

from dawnline.duration import Duration
from dawnline.event import Priority

TEXTS: Final = ("title", "term", "meaning", "time", "sure", "steps", "cautions", "cause", "consequence")
"""What of an alarm is text and may be said otherwise; the rest is set in `[alarms.NAME]`."""

HELPS_DKH: Final = 3.0
"""KH from which source water gives buffer to a pond that lacks it; common practice, no source."""
_SENTENCE: Final = re.compile(r"\{([a-z_]+)\}")


@dataclass(frozen=True, slots=True)
class Alarm:
    """One alarm. Delays in ms, `deadband` in the unit of what it judges.

    `term` is the trade's word for it, "" where there is none. `meaning` says what is happening, `cause` why,
    `consequence` what it leads to if nothing is done, `time` how long there is to act, `sure` how far to believe it,
    `steps` what to do in this order, `cautions` what not to do.
    """

    name: str
    priority: Priority
    title: str
    meaning: str
    cause: str
    consequence: str
    time: str
    sure: str
    steps: tuple[str, ...]
    cautions: tuple[str, ...]
    term: str = ""
    on_delay: int = 0
    off_delay: int = 0
    deadband: float = 0.0


class Catalogue(Mapping[str, Alarm]):
    """The alarms by name, in the file's order, and the words between their texts."""

    def __init__(
        self, file: CatalogueFile, source_kh_dkh: float | None = None, quantities: Mapping[str, str] | None = None
    ) -> None:
        """`source_kh_dkh` is the KH of the water that the pond is changed with, where it is known.

        `quantities` says what each probe measures, by name.
        """
        self._file, self._quantities = file, quantities or {}
        sentences = dict(file.sentences)
        if source_kh_dkh is not None:
            which = "change_helps" if source_kh_dkh >= HELPS_DKH else "change_brings_little"
            sentences["change"] = sentences[which].replace("{kh}", f"{source_kh_dkh:g}")
        self.words: Mapping[str, str] = file.words
        self.days, self.months = file.calendar.days, file.calendar.months
        self._alarms = {name: _alarm(name, entry, sentences) for name, entry in file.alarm.items()}
        self._of = {
            (name, quantity): _texts(said, sentences)
            for name, entry in file.alarm.items()
            for quantity, said in entry.of.items()
        }

    def with_pond(self, source_kh_dkh: float | None, quantities: Mapping[str, str]) -> Catalogue:
        """The same for a pond whose source water has this KH, and whose probes measure this."""
        return Catalogue(self._file, source_kh_dkh, quantities)

    def about(self, alarm: Alarm, probe: str | None) -> Alarm:
        """The alarm in the words that fit what this probe measures."""
        return replace(alarm, **self._of.get((alarm.name, self._quantities.get(probe or "", "")), {}))

    def __getitem__(self, name: str) -> Alarm:
        return self._alarms[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._alarms)

    def __len__(self) -> int:
        return len(self._alarms)


Text = Annotated[str, Field(min_length=1, max_length=1000)]
_FORM: Final = ConfigDict(extra="forbid", frozen=True)


class AlarmTexts(BaseModel):
    """`[alarm.NAME.of.QUANTITY]`: the texts that differ where a probe of this quantity has the alarm."""

    model_config = _FORM

    meaning: Text | None = None
    time: Text | None = None
    sure: Text | None = None
    steps: Annotated[tuple[Text, ...], Field(min_length=2, max_length=12)] | None = None
    cautions: Annotated[tuple[Text, ...], Field(min_length=1, max_length=12)] | None = None
    cause: Text | None = None
    consequence: Text | None = None


class AlarmEntry(BaseModel):
    """`[alarm.NAME]` of the file."""

    model_config = _FORM

    priority: Priority
    on_delay: Duration = 0
    off_delay: Duration = 0
    deadband: Annotated[float, Field(ge=0)] = 0.0
    title: Annotated[str, Field(min_length=1, max_length=48)]
    term: Annotated[str, Field(max_length=48)] = ""
    meaning: Text
    time: Text
    sure: Text
    steps: Annotated[tuple[Text, ...], Field(min_length=2, max_length=12)]
    cautions: Annotated[tuple[Text, ...], Field(min_length=1, max_length=12)]
    cause: Text
    consequence: Text
    of: dict[str, AlarmTexts] = {}


class Calendar(BaseModel):
    """`[calendar]`: names of days from Monday and of months from January."""

    model_config = _FORM

    days: Annotated[tuple[Text, ...], Field(min_length=7, max_length=7)]
    months: Annotated[tuple[Text, ...], Field(min_length=12, max_length=12)]


class CatalogueFile(BaseModel):
    """The whole file."""

    model_config = _FORM

    alarm: dict[str, AlarmEntry]
    sentences: dict[str, Text]
    calendar: Calendar
    words: dict[str, Text]


def sentence_in(text: str) -> str | None:
    """The name of the shared sentence that `text` stands for, if it is nothing but such a name.

    >>> sentence_in("{look}"), sentence_in("Look at the fish.")
    ('look', None)
    """
    match = _SENTENCE.fullmatch(text)
    return match[1] if match else None


def _alarm(name: str, entry: AlarmEntry, sentences: Mapping[str, str]) -> Alarm:
    given: dict[str, Any] = {key: getattr(entry, key) for key in AlarmEntry.model_fields if key != "of"}
    return Alarm(name, **given | _texts(entry, sentences))


def _texts(entry: AlarmEntry | AlarmTexts, sentences: Mapping[str, str]) -> dict[str, Any]:
    """What is said, with the shared sentences in the place of their names."""

    def full(text: str) -> str:
        said = sentence_in(text)
        return text if said is None else sentences[said]

    given = {key: getattr(entry, key) for key in TEXTS if getattr(entry, key, None) is not None}
    return {key: full(said) if isinstance(said, str) else tuple(map(full, said)) for key, said in given.items()}
