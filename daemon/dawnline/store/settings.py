"""`[store]`: where the pond's record is kept."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationInfo


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


class StoreSettings(BaseModel):
    """`path` is relative to the configuration's folder, given as `folder` in the validation context."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    path: Annotated[Path, BeforeValidator(_placed)]
