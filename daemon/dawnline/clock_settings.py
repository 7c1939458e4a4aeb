"""`[clock]`: what shows that the machine's clock is set."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal, TypeAlias

from pydantic import AfterValidator, BaseModel, ConfigDict

Trust: TypeAlias = Literal["auto", "always", "mark"]


def _absolute(path: Path) -> Path:
    if not path.is_absolute():
        raise ValueError('expected the whole path of a file, such as "/run/clock-is-set"')
    return path


class ClockSettings(BaseModel):
    """`trust`: `auto` goes by what the system says, `always` believes the clock as it stands, `mark` believes it once
    the file `mark` is there and by nothing else (a script that sets the clock from a GPS receiver can make it).

    The default is the file that systemd-timesyncd makes when it has set the clock (systemd-timesyncd.service(8)).
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    trust: Trust = "auto"
    mark: Annotated[Path, AfterValidator(_absolute)] = Path("/run/systemd/timesync/synchronized")
