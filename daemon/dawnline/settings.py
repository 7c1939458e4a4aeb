"""The configuration: one TOML file a pond, composed from the models that stand beside what they set.

Read once and frozen. Whatever is wrong is said all at once, one fault a line, each with its file, its key,
what was found and what is expected.
"""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Any, Final

from pydantic import BaseModel, ConfigDict, Field, PrivateAttr, ValidationError

from dawnline.alarms.catalogue import Catalogue
from dawnline.alarms.settings import AlarmSettings
from dawnline.broker import MqttSettings
from dawnline.catalogue_file import TextSettings, shipped, with_texts
from dawnline.clock_settings import ClockSettings
from dawnline.delivery.forward.settings import InfluxSettings
from dawnline.delivery.settings import HeartbeatSettings, MailSettings, PersonSettings
from dawnline.electrode.settings import BufferSettings, CalibrationSettings
from dawnline.errors import SettingsError
from dawnline.logbook.reminders import ReminderSettings
from dawnline.logbook.settings import LogbookSettings
from dawnline.outlook.settings import LimitSettings, PondSettings
from dawnline.page.settings import PageSettings
from dawnline.people.weekly import WeeklySettings
from dawnline.probes.settings import ProbeSettings
from dawnline.settings_checks import disagreements
from dawnline.settings_errors import Fault, explain, unfit_values
from dawnline.store.settings import StoreSettings
from dawnline.toml_file import read_toml

_ABSENT: Final = (
    "a configuration: write one (config/dawnline.toml is a commented example), or name yours with --config or "
    "$DAWNLINE_CONFIG"
)


class Settings(BaseModel):
    """One pond's configuration. `path` is the file it came from; relative paths in it start at `folder`."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    pond: PondSettings
    store: StoreSettings
    probes: Annotated[tuple[ProbeSettings, ...], Field(min_length=1)]
    limits: LimitSettings = LimitSettings()
    calibration: CalibrationSettings = CalibrationSettings()
    buffers: tuple[BufferSettings, ...] = ()
    mqtt: MqttSettings | None = None
    people: tuple[PersonSettings, ...] = ()
    mail: MailSettings | None = None
    heartbeat: HeartbeatSettings | None = None
    influxdb: InfluxSettings | None = None
    page: PageSettings = PageSettings()
    alarms: dict[str, AlarmSettings] = Field(default_factory=dict)
    texts: TextSettings | None = None
    clock: ClockSettings = ClockSettings()
    logbook: LogbookSettings = LogbookSettings()
    reminders: ReminderSettings = ReminderSettings()
    weekly: WeeklySettings | None = None

    _path: Path = PrivateAttr(default=Path("dawnline.toml"))
    _catalogue: Catalogue | None = PrivateAttr(default=None)

    def model_post_init(self, context: Any, /) -> None:
        """Keep the path, which comes beside the file's content, never out of it."""
        self._path = (context or {}).get("path", self._path)

    @property
    def path(self) -> Path:
        """The file."""
        return self._path

    @property
    def folder(self) -> Path:
        """Where relative paths of this file start."""
        return self._path.parent

    @property
    def gauge(self) -> str | None:
        """The rain gauge that counts for the pond: the first of them."""
        return next((probe.name for probe in self.probes if probe.quantity == "rain"), None)

    @property
    def catalogue(self) -> Catalogue:
        """Every alarm, with the texts that hold here."""
        quantities = {probe.name: probe.quantity for probe in self.probes}
        return (self._catalogue or shipped()).with_pond(self.pond.source_kh_dkh, quantities)


def find_config(argument: str | Sequence[str] | None) -> Path:
    """The configuration: `--config`, else $DAWNLINE_CONFIG, else ./dawnline.toml. It need not exist.

    Raises SettingsError where more than one is given.
    """
    given = [argument] if isinstance(argument, str) else list(argument or ())
    if len(given) > 1:
        found = f"{len(given)} ({', '.join(given)})"
        raise SettingsError(f"--config: found {found}, expected one: this command is about one pond")
    return Path((given and given[0]) or os.environ.get("DAWNLINE_CONFIG") or "dawnline.toml")


def load(path: Path) -> Settings:
    """The settings in the file at `path`. Raises SettingsError with every fault found, one a line."""
    data = read_toml(path, "a TOML file", _ABSENT)
    if not data:
        expected = "expected [pond], [store] and one [[probes]] a probe"
        raise SettingsError(f"{path}: found nothing in it, {expected}: config/dawnline.toml is an example")
    context = {"path": path, "folder": path.parent}
    settings, faults = _build(data, context)
    if settings is None or faults:
        first = {fault.place: fault for fault in reversed(faults)}  # the first for each place is the plainest
        raise SettingsError("\n".join(f"{path}: {f.place}: {f.text}" for f in reversed(first.values())))
    if settings.texts is not None:
        settings._catalogue = with_texts(path.parent / settings.texts.file)
    return settings


def _build(content: dict[str, Any], context: dict[str, Any]) -> tuple[Settings | None, list[Fault]]:
    faults = unfit_values(content) + _loose_types(content, context)
    settings = None
    try:
        settings = Settings.model_validate(content, context=context)
    except ValidationError as error:
        faults += explain(error.errors(), Settings)
    return settings, faults + disagreements(content, context)


def _loose_types(content: dict[str, Any], context: dict[str, Any]) -> list[Fault]:
    """What a lenient look lets pass: "7" for 7, true for 1. From JSON, where a list is a tuple as well."""
    try:
        Settings.model_validate_json(json.dumps(content, default=str), strict=True, context=context)
    except ValidationError as error:
        # What a validator of ours made, such as a Path, is no JSON and no fault.
        plain = (str, int, float, dict, list, type(None))
        return explain([each for each in error.errors() if isinstance(each["input"], plain)], Settings)
    return []
