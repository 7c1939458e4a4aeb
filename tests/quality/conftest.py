"""ioos_qc, where it can be had."""

from __future__ import annotations

import pytest

from ..machine import missing
from .oracle import Oracle


@pytest.fixture(scope="session")
def oracle() -> Oracle:
    try:
        return Oracle()
    except ImportError as reason:
        missing(f"ioos_qc ({reason})")
