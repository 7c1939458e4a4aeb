from __future__ import annotations

import pytest

from dawnline.outlook.buffer_line import Outlook
from dawnline.outlook.buffer_watch import _priority


@pytest.mark.parametrize(
    ("earliest", "central", "above", "priority"),
    [
        (1, 2, 0.3, "high"),
        (3, 5, 0.5, "medium"),
        (1, 2, 0.8, "medium"),  # three quarters of the buffer in two days: likelier the line than the water
        (1, 2, 1.5, "low"),
        (5, 8, 0.5, "low"),
    ],
)
def test_what_no_water_does_wakes_nobody(earliest: int, central: int, above: float, priority: str) -> None:
    assert _priority(Outlook(trend="falling", central=central, earliest=earliest, latest=12), above) == priority
