from __future__ import annotations

from math import cos, pi

import pytest

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.outlook.rest import PHASES, Rest

T0 = 1_780_000_000_000
PHASE_MS = 30 * MINUTE_MS
Profile = dict[str, list[tuple[float, ...]]]
new = Profile


def water(at: int) -> float:
    return 7.5 + 0.3 * cos(2 * pi * at / (24 * HOUR_MS))


def lived(rest: Rest, begin: int, hours: int, shown: dict[int, float], grain: float, profile: Profile) -> list[int]:
    """Pushes each minute what the pond shows, or what `shown` says for the minute; the minutes at which rest stands."""
    standing = []
    for minute in range(hours * 60):
        at = begin + minute * MINUTE_MS
        value = shown.get(minute, round(water(at) / grain) * grain)
        phase = at // PHASE_MS % PHASES
        rest.push(at, value, grain, phase, profile, slow=False)
        if (at + MINUTE_MS) % PHASE_MS == 0:
            profile.setdefault(str(phase), []).append((0.0, value))
        if rest.since is not None:
            standing.append(minute)
    return standing


@pytest.mark.parametrize(("grain", "rolls"), [(0.01, 0.01), (0.01, 0.0), (0.1, 0.0)])
def test_a_rest_where_every_day_moved_is_seen(grain: float, rolls: float) -> None:
    rest, profile = Rest(), new()
    begin = T0 - T0 % (24 * HOUR_MS)
    assert lived(rest, begin, 6 * 24, {}, grain, profile) == []
    frozen = {minute: 7.5 + rolls * (minute % 3 - 1) for minute in range(3 * 60, 12 * 60)}
    assert 0 < lived(rest, begin + 6 * 24 * HOUR_MS, 24, frozen, grain, profile)[0] - 3 * 60 <= 6 * 60


def test_a_rest_where_one_day_has_rested_too_is_none() -> None:
    rest, profile = Rest(), new()
    begin = T0 - T0 % (24 * HOUR_MS)
    still = dict.fromkeys(range(3 * 60, 12 * 60), 7.5)
    lived(rest, begin, 3 * 24, {}, 0.01, profile)
    lived(rest, begin + 3 * 24 * HOUR_MS, 24, still, 0.01, profile)
    lived(rest, begin + 4 * 24 * HOUR_MS, 48, {}, 0.01, profile)
    assert lived(rest, begin + 6 * 24 * HOUR_MS, 24, still, 0.01, profile) == []


def test_it_remembers_across_a_restart() -> None:
    rest, again, profile = Rest(), Rest(), new()
    lived(rest, T0, 50, {}, 0.01, profile)
    again.restore(rest.save())
    assert again.save() == rest.save()
