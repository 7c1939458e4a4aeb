"""`[[probes]]`: what is measured, and the link it arrives by."""

from __future__ import annotations

import re
import warnings
from pathlib import Path
from typing import Annotated, Final, Literal, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationInfo, model_validator

from dawnline.duration import Duration
from dawnline.probes.dialects.modbus import Table
from dawnline.probes.dialects.registers import Order, RegisterForm, Type
from dawnline.quality.settings import QualitySettings, Speech

Name = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_-]{0,31}$")]
# The kernel's name of a thermometer: family (DS18S20, DS1822, DS18B20, DS1825, DS28EA00), then its number.
_DEVICE: Final = re.compile(r"(10|22|28|3b|42)-[0-9a-f]{12}")

# What a probe may be told, by its link; `name`, `quantity`, `link`, `interval`, `span`, ... always.
KEYS: Final[dict[str, tuple[str, ...]]] = {
    "serial": ("port", "baud", "key", "time_key", "scale"),
    "mqtt": ("topic", "key", "time_key", "scale"),
    "modbus": (
        *("port", "baud", "parity", "stopbits", "unit", "table", "register"),
        *("type", "byte_order", "word_order", "scale", "offset", "missing"),
    ),
    "onewire": ("device", "folder"),
}
_NEEDED: Final[dict[str, tuple[tuple[str, str], ...]]] = {
    "serial": (("port", 'a serial probe needs `port`, such as "/dev/serial/by-id/..."'),),
    "mqtt": (("topic", 'an mqtt probe needs `topic`, such as "pond/water/ph"'),),
    "modbus": (
        ("port", 'a modbus probe needs `port`, such as "/dev/serial/by-id/..."'),
        ("unit", "a modbus probe needs `unit`, the address of the device on the bus, 1 to 247"),
        ("register", "a modbus probe needs `register`, counted from 0 (40001 in a manual is holding register 0)"),
    ),
    "onewire": (("device", 'a onewire probe needs `device`, such as "28-0316a2795e7b"'),),
}

# The metaclass of every model has a method `register`, which nobody calls; the keeper's key has the name it deserves.
warnings.filterwarnings("ignore", 'Field name "register" in "ProbeSettings" shadows', UserWarning)


def _own_column(name: str) -> str:
    if name == "time":
        raise ValueError("expected another name: in CSV files `time` heads the column of the times")
    return name


def _thermometer(name: str) -> str:
    if not _DEVICE.fullmatch(name):
        raise ValueError(
            'expected the name of a thermometer as /sys/bus/w1/devices lists it, such as "28-0316a2795e7b": '
            "family 10, 22, 28, 3b or 42, then twelve of 0-9 and a-f"
        )
    return name


def _placed(folder: str, info: ValidationInfo) -> str:
    if not folder.strip() or "\0" in folder:
        raise ValueError('expected the path of a folder, such as "/sys/bus/w1/devices"')
    return str(Path((info.context or {}).get("folder", Path()), folder))


class ProbeSettings(BaseModel):
    """One probe. `interval` is how often it should speak (milliseconds).

    Where it is not given it is learned; a probe that is asked (modbus, onewire) is then asked every 10 s.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: Annotated[Name, AfterValidator(_own_column)]
    quantity: Literal["ph", "electrode_mv", "temperature", "dissolved_oxygen", "rain"]
    link: Literal["serial", "modbus", "onewire", "mqtt"]
    interval: Duration | None = None
    temperature: Name | None = None  # the temperature probe that compensates this one
    span: tuple[float, float] | None = None  # what this instrument can measure, in the quantity's unit
    # rain: whether it sends what fell since its last message, or a running total, and where that begins again at 0
    gauge: Speech | None = None  # accumulation where it is not given: a lost message is no lost rain then
    rolls_over: Annotated[float, Field(gt=0, le=1e12)] | None = None  # in what it sends, before `scale`
    quality: QualitySettings | None = None  # thresholds of the checks; as usual for the quantity where not given
    # serial and modbus: probes that name the same port share it
    port: str | None = None
    baud: Annotated[int, Field(ge=300, le=4_000_000)] = 9600
    # serial and mqtt: the name of the value in `name=value` pairs or in a JSON object (dots go deeper)
    key: str | None = None
    time_key: str | None = None
    # mqtt
    topic: str | None = None
    # the value is what is sent * scale (+ offset): 25.4 for inches of rain, 0.2 for tips of a bucket of 0.2 mm
    scale: float = 1.0
    # modbus: the register's address as it goes over the wire, from 0
    parity: Literal["none", "even", "odd"] = "none"
    stopbits: Annotated[int, Field(ge=1, le=2)] = 1
    unit: Annotated[int, Field(ge=1, le=247)] | None = None
    table: Table = "holding"
    register: Annotated[int, Field(ge=0, le=65_535)] | None = None
    type: Type = "int16"
    byte_order: Order = "big"
    word_order: Order = "big"
    offset: float = 0.0
    missing: tuple[Annotated[int, Field(ge=0, le=0xFFFF_FFFF)], ...] = ()  # bit patterns that mean: no measurement
    # onewire
    device: Annotated[str, AfterValidator(_thermometer)] | None = None
    folder: Annotated[str, AfterValidator(_placed)] = "/sys/bus/w1/devices"

    @property
    def form(self) -> RegisterForm:
        """How a modbus device writes this probe's number."""
        return RegisterForm(self.type, self.byte_order, self.word_order, self.scale, self.offset, self.missing)

    @property
    def speech(self) -> tuple[Speech, float | None]:
        """How a rain gauge speaks, and where its total rolls over [mm]."""
        rolls_over = None if self.rolls_over is None else abs(self.rolls_over * self.scale)
        return self.gauge or "accumulation", rolls_over

    @property
    def where(self) -> str:
        """The place it is read from, in words."""
        if self.link == "modbus":
            return f"{self.port}, unit {self.unit}, {self.table} register {self.register}"
        return str({"serial": self.port, "mqtt": self.topic, "onewire": self.device}[self.link])

    @model_validator(mode="after")
    def _link_has_what_it_needs(self) -> Self:
        for key, need in _NEEDED[self.link]:
            if getattr(self, key) in (None, ""):
                raise ValueError(need)
        if self.topic and any(c in self.topic for c in "+#\0"):
            raise ValueError("`topic` names one topic: no wildcards")
        return self

    @model_validator(mode="after")
    def _no_key_of_another_link(self) -> Self:
        for key, field in type(self).model_fields.items():
            links = [link for link, keys in KEYS.items() if key in keys]
            if links and self.link not in links and getattr(self, key) != field.default:
                whose = " and ".join(f'"{link}"' for link in links)
                known = ", ".join(KEYS[self.link])
                raise ValueError(f'`{key}` belongs to link {whose}; link "{self.link}" has {known}')
        return self

    @model_validator(mode="after")
    def _gauge_of_rain(self) -> Self:
        for key in ("gauge", "rolls_over"):
            if self.quantity != "rain" and getattr(self, key) is not None:
                raise ValueError(f'`{key}` belongs to quantity "rain", and this probe measures {self.quantity}')
        if self.gauge == "amount" and self.rolls_over is not None:
            raise ValueError(
                '`rolls_over` belongs to gauge = "accumulation": an amount since the last message has no end'
            )
        return self

    @model_validator(mode="after")
    def _register_can_be(self) -> Self:
        if self.link == "onewire" and self.quantity != "temperature":
            raise ValueError('a onewire probe is a thermometer: expected quantity = "temperature"')
        if self.register is not None and self.register + self.form.count > 65_536:
            raise ValueError(f"`register` {self.register} is the last: {self.type} takes two")
        if self.scale == 0:
            raise ValueError("`scale` 0 makes every value the same: expected another number, such as 0.01")
        if any(pattern >= 1 << (16 * self.form.count) for pattern in self.missing):
            raise ValueError(f"`missing` holds a pattern longer than {self.type} has bits")
        return self
