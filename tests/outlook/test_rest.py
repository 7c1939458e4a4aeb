from __future__ import annotations

from math import cos, pi
from random import Random

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


def test_a_night_that_begins_where_others_ended_may_rest() -> None:
    """After a dark day there is nothing to fall from; a value that stands as high as by day has stopped."""
    begin, noon, night = T0 - T0 % (24 * HOUR_MS), 12, (1, 11)  # the wave is highest at 0 h
    for level, accused in ((7.15, False), (7.7, True)):
        rest, profile = Rest(), new()
        lived(rest, begin, 6 * 24, {}, 0.01, profile)
        still = dict.fromkeys(range(night[0] * 60, night[1] * 60), level)
        assert bool(lived(rest, begin + 6 * 24 * HOUR_MS, noon, still, 0.01, profile)) is accused


@pytest.mark.parametrize(("grain", "rolls"), [(0.01, 0.01), (0.01, 0.0), (0.1, 0.0)])
def test_a_rest_beside_a_probe_that_moves_is_seen_without_any_day_known(grain: float, rolls: float) -> None:
    begin = T0 - T0 % (24 * HOUR_MS)
    for swing, accused in ((1.0, True), (0.2, False)):
        rest = Rest()
        for minute in range(3 * 60, 10 * 60):
            at = begin + minute * MINUTE_MS
            rest.push(at, 7.5 + rolls * (minute % 3 - 1), grain, at // PHASE_MS % PHASES, {}, slow=False)
            rest.compare(at, 7.5 + swing * (water(at) - 7.5), grain)
        assert (rest.since is not None) is accused
        assert rest.besides is accused


def test_two_that_rest_together_accuse_nobody() -> None:
    rest = Rest()
    for minute in range(24 * 60):
        at = T0 + minute * MINUTE_MS
        rest.push(at, 7.5, 0.01, at // PHASE_MS % PHASES, {}, slow=False)
        rest.compare(at, 7.4 + 0.02 * (minute % 2), 0.01)
    assert rest.since is None


def test_it_remembers_across_a_restart() -> None:
    rest, again, profile = Rest(), Rest(), new()
    lived(rest, T0, 50, {}, 0.01, profile)
    again.restore(rest.save())
    assert again.save() == rest.save()


def test_where_the_hiss_is_wider_than_a_rest_a_long_one_needs_no_moving_days() -> None:
    """Once the hiss of the circuit is gone for hours, the converter has stopped; without one it may be a calm pond."""
    dice, begin = Random(5), T0 - T0 % (24 * HOUR_MS)
    for hiss, accused in ((0.02, True), (0.0, False)):
        rest, profile = Rest(), new()
        for minute in range(6 * 24 * 60):
            at, phase = begin + minute * MINUTE_MS, (begin + minute * MINUTE_MS) // PHASE_MS % PHASES
            value = round(7.3 + dice.gauss(0.0, 0.02), 2)
            rest.push(at, value, 0.01, phase, profile, slow=False, hiss=hiss)
            if (at + MINUTE_MS) % PHASE_MS == 0:
                profile.setdefault(str(phase), []).append((0.0, 7.3))
        assert rest.since is None
        begin_rest = begin + 6 * 24 * HOUR_MS
        for minute in range(6 * 60):
            at = begin_rest + minute * MINUTE_MS
            rest.push(at, 7.3 + 0.01 * (minute % 2), 0.01, at // PHASE_MS % PHASES, profile, slow=False, hiss=hiss)
        assert (rest.since is not None) is accused
        if accused:
            assert "and in these weeks never for longer than" in rest.evidence(begin_rest + 6 * HOUR_MS)


def test_beside_a_probe_that_is_not_to_be_believed_a_rest_proves_nothing() -> None:
    for believed in (True, False):
        rest = Rest()
        for minute in range(5 * 60):
            at = T0 + minute * MINUTE_MS
            rest.push(at, 7.3, 0.01, at // PHASE_MS % PHASES, {}, slow=False)
            rest.compare(at, 7.0 + minute / 600 if believed or minute < 230 else None, 0.01)
        assert (rest.since is not None) is believed


def test_one_odd_reading_of_a_slow_probe_beside_it_is_no_movement() -> None:
    rest = Rest()
    for minute in range(5 * 60):
        at = T0 + minute * MINUTE_MS
        rest.push(at, 7.3, 0.01, at // PHASE_MS % PHASES, {}, slow=True)
        rest.compare(at, 7.8 if 255 <= minute < 270 else 7.3, 0.01, 15 * MINUTE_MS)
    assert rest.since is None


def test_what_the_probe_beside_it_did_before_the_rest_is_no_movement() -> None:
    rest = Rest()
    for minute in range(12 * 60):
        at = T0 + minute * MINUTE_MS
        both = 7.6 + 0.6 * min(minute / 180, 1.0)  # up to noon, then as a sunny afternoon stands
        rest.push(at, round(both + 0.02 * (minute % 2), 2), 0.02, minute // 60, {}, slow=True)
        rest.compare(at, both, 0.02, 15 * MINUTE_MS)
        assert rest.since is None
    for minute in range(12 * 60, 18 * 60):
        at = T0 + minute * MINUTE_MS
        rest.push(at, 8.2, 0.02, minute // 60, {}, slow=True)
        rest.compare(at, 8.2 - 0.3 * (minute / 60 - 12) / 6, 0.02, 15 * MINUTE_MS)
    assert rest.since is not None
