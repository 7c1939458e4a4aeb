from __future__ import annotations

from pathlib import Path

import pytest
from pydantic import ValidationError

from dawnline.store.settings import StoreSettings


def test_a_relative_path_is_relative_to_the_configuration(tmp_path: Path) -> None:
    given = StoreSettings.model_validate({"path": "ponds/heron-lane.db"}, context={"folder": tmp_path})
    assert given.path == tmp_path / "ponds" / "heron-lane.db"


def test_an_absolute_path_stays(tmp_path: Path) -> None:
    given = StoreSettings.model_validate({"path": str(tmp_path / "s.db")}, context={"folder": Path("/elsewhere")})
    assert given.path == tmp_path / "s.db"


def test_a_link_stands_for_the_file_it_leads_to(tmp_path: Path) -> None:
    (tmp_path / "link.db").symlink_to(tmp_path / "heron-lane.db")
    given = StoreSettings.model_validate({"path": "link.db"}, context={"folder": tmp_path})
    assert given.path == (tmp_path / "heron-lane.db").resolve()


@pytest.mark.parametrize("bad", ["", "  ", ":memory:", "file:s.db?mode=memory", "a\0b", 7, None])
def test_what_is_no_path_of_a_file_is_refused(bad: object) -> None:
    with pytest.raises(ValidationError, match="a file of its own"):
        StoreSettings.model_validate({"path": bad})


def test_a_name_that_no_disk_takes_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValidationError, match="cannot be looked at"):
        StoreSettings.model_validate({"path": "x" * 5000}, context={"folder": tmp_path})


def test_a_folder_and_an_unknown_key_are_refused(tmp_path: Path) -> None:
    with pytest.raises(ValidationError, match="is a folder"):
        StoreSettings.model_validate({"path": "."}, context={"folder": tmp_path})
    with pytest.raises(ValidationError, match="retention"):
        StoreSettings.model_validate({"path": "s.db", "retention": "1y"})
