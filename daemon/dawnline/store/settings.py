"""`[store]`: where the pond's record is kept."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Final

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, ValidationInfo

from dawnline.duration import DAY_MS, Duration

LEAST_RAW_MS: Final = 30 * DAY_MS


def _placed(value: object, info: ValidationInfo) -> Path:
    text = str(value) if isinstance(value, str | Path) else ""
    if not text.strip() or text.startswith((":", "file:")) or "\0" in text:
        raise ValueError('expected the path of a file of its own, such as "heron-lane.db"')
    path = Path((info.context or {}).get("folder", Path()), text)
    try:
        folder = path.is_dir()
    except OSError as error:
        raise ValueError(f"{path} cannot be looked at ({error.strerror}): give another path") from None
    if folder:
        raise ValueError(f"{path} is a folder: add the name of a file, such as heron-lane.db")
    # One store under two names would have two writers, for lock and inbox go by the name.
    return path.resolve() if path.is_symlink() else path


def _long_enough(value: int | None) -> int | None:
    if value is not None and value < LEAST_RAW_MS:
        raise ValueError('expected "30d" or longer: the watch itself looks back three weeks')
    return value


class StoreSettings(BaseModel):
    """`path` is relative to the configuration's folder, given as `folder` in the validation context.

    `keep_raw` [ms] is how long readings are kept one by one; None for ever. Their quarters of an hour stay in any case.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    path: Annotated[Path, BeforeValidator(_placed)]
    keep_raw: Annotated[Duration | None, AfterValidator(_long_enough)] = None
