"""The desk of a pond with the alarms as shipped."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from dawnline.alarms.desk import Desk
from dawnline.catalogue_file import shipped


@pytest.fixture
def desk() -> Desk:
    return Desk(shipped(), ZoneInfo("Europe/Berlin"))
