from __future__ import annotations

from dataclasses import dataclass, field

import pytest

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.outlook.twin import Twin, calibrated, compare

T0 = 1_780_000_000_000


@dataclass
class Probe:
    """A probe that says `current`, and usually says `usual`."""

    current: float | None
    usual: float | None = None
    twin: Twin = field(default_factory=Twin)
    moving: bool = True
    faulty: bool = False
    leapt_at: int | None = None
    heard: float | None = None  # what was told of the others last
    interval: int = MINUTE_MS

    def live(self, at: int) -> bool:
        return at > 0 and self.current is not None

    def moves(self, at: int) -> bool:
        return self.moving

    def beside(self, at: int, value: float | None, interval: int) -> None:
        self.heard = value

    def unlike(self) -> float | None:
        return None if self.usual is None or self.current is None else abs(self.current - self.usual)


def minutes(probes: list[Probe], count: int, begin: int = T0) -> int:
    for i in range(count):
        compare(probes, begin + i * MINUTE_MS)
    return begin + count * MINUTE_MS


def verdicts(probes: list[Probe]) -> list[tuple[bool, bool]]:
    return [(probe.twin.blamed, probe.twin.decided) for probe in probes]


def test_what_was_usual_between_them_on_the_first_day_is_no_disagreement() -> None:
    probes, at = [Probe(7.5), Probe(7.1)], T0
    for _ in range(26 * 6):
        at = minutes(probes, 10, at)
        assert verdicts(probes) == [(False, False)] * 2
    assert [probe.twin.unshared for probe in probes] == [0.0, 0.0]


@pytest.mark.parametrize("others", [[7.5], [7.5, 7.6], [7.5, 7.6, 7.4]])
def test_one_that_is_calibrated_accuses_nobody(others: list[float]) -> None:
    probes = [Probe(7.1), *map(Probe, others)]
    at = minutes(probes, 26 * 60)
    calibrated(probes, probes[0], 0.45)
    probes[0].twin.forget()
    probes[0].current = 7.55
    for _ in range(26 * 6):
        at = minutes(probes, 10, at)
        assert [blamed for blamed, _ in verdicts(probes)] == [False] * len(probes)


def test_the_one_unlike_its_own_past_is_named() -> None:
    probes = [Probe(7.5, 7.5), Probe(7.1, 7.1)]
    at = minutes(probes, 26 * 60)
    probes[1].current = 6.6
    minutes(probes, 120, at)
    assert verdicts(probes) == [(False, False), (True, True)]


def test_where_neither_is_plainly_unlike_its_past_both_are() -> None:
    for usual in (None, 7.4):
        probes = [Probe(7.5, 7.5), Probe(7.5, 7.5)]
        at = minutes(probes, 26 * 60)
        probes[0].current, probes[1].current, probes[0].usual, probes[1].usual = 7.7, 7.2, usual, usual
        minutes(probes, 120, at)
        assert verdicts(probes) == [(True, False)] * 2


def drifted(probes: list[Probe], hours: int) -> int:
    """The second one sinks by 0.05 an hour beside the first; the time [ms] when it lies 0.4 below its past."""
    at = minutes(probes, 26 * 60)
    for _ in range(8):
        probes[1].current = (probes[1].current or 0.0) - 0.05
        at = minutes(probes, 60, at)
    return minutes(probes, hours * 60, at)


@pytest.mark.parametrize(("hours", "changes"), [(12, True), (36, False)])
def test_a_day_after_they_moved_apart_the_past_tells_no_more_who_is_wrong(hours: int, changes: bool) -> None:
    probes = [Probe(7.5, 7.5), Probe(7.5, 7.5)]
    at = drifted(probes, hours)
    assert verdicts(probes) == [(False, False), (True, True)]
    probes[0].usual, probes[1].usual = 7.1, 7.1  # by then the past of one is its fault, and the water has sunk
    minutes(probes, 10, at)
    assert verdicts(probes)[0] == ((True, True) if changes else (False, False))


@pytest.mark.parametrize(("drifted", "who"), [(0.44, 1), (0.46, 0)])
def test_who_drifts_on_far_from_its_past_is_the_one_in_the_end(drifted: float, who: int) -> None:
    """A bright day made the healthy one look odd when they came apart."""
    probes = [Probe(7.5, 7.5), Probe(7.5, 7.5)]
    at = minutes(probes, 26 * 60)
    probes[0].current, probes[1].current = 7.5, 7.9
    at = minutes(probes, 26 * 60, at)
    assert [blamed for blamed, _ in verdicts(probes)] == [False, True]
    probes[0].current, probes[1].current = 7.5 - drifted, 7.55
    minutes(probes, 5, at)
    assert [blamed for blamed, _ in verdicts(probes)] == [who == 0, who == 1]


def test_who_is_plainly_wrong_proves_nobody_beside_it_frozen() -> None:
    probes = [Probe(7.5, 7.5), Probe(7.5, 7.5)]
    drifted(probes, 2)
    assert verdicts(probes) == [(False, False), (True, True)]
    assert [probe.heard for probe in probes] == [None, 7.5]


def test_who_is_ill_by_its_own_signs_holds_no_old_verdict_against_the_other() -> None:
    probes = [Probe(7.5, 7.5), Probe(7.5, 7.5)]
    at = drifted(probes, 36)
    probes[0].faulty = True
    minutes(probes, 10, at)
    assert verdicts(probes)[1] == (False, False)


def test_they_are_asked_anew_where_they_move_apart_anew() -> None:
    probes = [Probe(7.5, 7.5), Probe(7.5, 7.5)]
    at = drifted(probes, 36)
    probes[0].current, probes[1].usual = 5.5, 7.1
    minutes(probes, 60, at)
    assert verdicts(probes) == [(True, True), (False, False)]


def test_who_came_apart_slowly_must_agree_for_hours() -> None:
    probes = [Probe(7.5, 7.5), Probe(7.5, 7.5)]
    at = drifted(probes, 1)
    for _ in range(8):  # a last digit or two takes them to and fro across the limit
        probes[1].current = 7.35
        at = minutes(probes, 100, at)
        assert probes[1].twin.blamed
        probes[1].current = 7.15
        at = minutes(probes, 100, at)
    probes[1].current = 7.45
    at = minutes(probes, 5 * 60, at)
    assert probes[1].twin.blamed
    minutes(probes, 3 * 60, at)
    assert verdicts(probes) == [(False, False)] * 2


def test_who_has_just_leapt_names_nobody_frozen_that_hangs_beside_it() -> None:
    probes = [Probe(7.5), Probe(7.7)]
    at = minutes(probes, 26 * 60)
    assert [probe.heard for probe in probes] == [7.7, 7.5]
    probes[0].current, probes[0].leapt_at = 4.0, at
    minutes(probes, 60, at)
    assert [probe.heard for probe in probes] == [7.7, None]


@pytest.mark.parametrize("frozen", [False, True])
def test_who_leapt_is_wrong_beside_one_that_rests_if_that_is_not_frozen(frozen: bool) -> None:
    probes = [Probe(7.9, 7.9), Probe(8.0, 8.0)]
    at = minutes(probes, 26 * 60)
    probes[0].current, probes[0].leapt_at = 4.0, at
    probes[1].moving, probes[1].faulty = False, frozen
    minutes(probes, 60, at)
    assert probes[0].twin.decided is not frozen


def test_a_passing_difference_is_none() -> None:
    probes = [Probe(7.5, 7.5), Probe(7.5, 7.5)]
    at = minutes(probes, 26 * 60)
    probes[1].current = 7.0
    at = minutes(probes, 15, at)
    probes[1].current = 7.5
    minutes(probes, 60, at)
    assert verdicts(probes) == [(False, False)] * 2


def test_three_outvote_one() -> None:
    probes = [Probe(7.5), Probe(7.5), Probe(7.5)]
    at = minutes(probes, 26 * 60)
    probes[2].current = 6.9
    minutes(probes, 90, at)
    assert probes[2].twin.decided
    assert not probes[0].twin.apart
    assert not probes[1].twin.apart


def test_a_pond_that_moves_takes_both_along() -> None:
    probes = [Probe(7.5, 7.5), Probe(7.4, 7.4)]
    at = minutes(probes, 26 * 60)
    probes[0].current, probes[1].current = 6.4, 6.3
    minutes(probes, 300, at)
    assert verdicts(probes) == [(False, False)] * 2


def test_alone_there_is_nobody_to_disagree_with() -> None:
    probes = [Probe(7.5, 7.5), Probe(6.0, 7.5)]
    at = minutes(probes, 120)
    assert probes[1].twin.blamed
    probes[0].current = None
    at = minutes(probes, 60, at)
    assert probes[1].twin.blamed  # a missed reading acquits nobody
    minutes(probes, 1, at)
    assert verdicts(probes) == [(False, False)] * 2


def test_one_that_has_stopped_is_the_one_that_is_wrong() -> None:
    probes = [Probe(7.5), Probe(7.5)]
    at = minutes(probes, 26 * 60)
    probes[0].current = 7.0  # a real fall, while its twin stands still
    probes[1].faulty = True
    minutes(probes, 120, at)
    assert verdicts(probes) == [(False, False), (True, True)]


def test_while_it_is_not_known_yet_who_is_right_the_question_is_open() -> None:
    probes = [Probe(7.5, 7.5), Probe(7.5, 7.5)]
    at = minutes(probes, 26 * 60)
    assert not probes[1].twin.open
    probes[1].current = 6.0
    at = minutes(probes, 1, at)
    assert probes[1].twin.open
    minutes(probes, 20, at)
    assert not probes[1].twin.open
    assert probes[1].twin.blamed


def test_it_remembers_across_a_restart() -> None:
    twin, again = Twin(), Twin()
    for i in range(40):
        twin.push(T0 + i * HOUR_MS, 0.1 + i / 100)
    again.restore(twin.save())
    assert again.save() == twin.save()
    twin.push(T0 + 41 * HOUR_MS, 0.9)
    again.push(T0 + 41 * HOUR_MS, 0.9)
    assert again.save() == twin.save()


def test_a_large_difference_is_seen_within_a_quarter_of_an_hour() -> None:
    probes = [Probe(7.5, 7.5), Probe(7.1, 7.1)]
    at = minutes(probes, 26 * 60)
    probes[1].current = 5.9
    minutes(probes, 10, at)
    assert verdicts(probes) == [(False, False), (True, True)]


def test_a_real_fall_beside_a_frozen_twin_overrules_nobody() -> None:
    probes = [Probe(7.5, 7.5), Probe(7.5, 7.5, moving=False)]
    at = minutes(probes, 26 * 60)
    probes[0].current = 6.2
    minutes(probes, 60, at)
    assert not probes[0].twin.decided


def test_who_was_plainly_wrong_stays_so_while_it_passes_the_right_value() -> None:
    probes = [Probe(7.5, 7.5), Probe(7.5, 7.5)]
    at = minutes(probes, 26 * 60)
    probes[1].current = 6.0
    at = minutes(probes, 30, at)
    probes[1].current = 7.5
    at = minutes(probes, 20, at)
    assert verdicts(probes) == [(False, False), (True, True)]
    minutes(probes, 60, at)
    assert verdicts(probes) == [(False, False)] * 2


def test_how_far_it_came_down_beside_the_other_is_what_they_do_not_share() -> None:
    probes = [Probe(7.5), Probe(7.5)]
    at = minutes(probes, 25 * 60)
    assert probes[0].twin.unshared == 0.0
    probes[0].current = probes[1].current = 7.0
    at = minutes(probes, 60, begin=at)  # both fell
    assert probes[0].twin.unshared < 0.01
    probes[0].current = 6.8
    minutes(probes, 30, begin=at)
    assert 0.15 < probes[0].twin.unshared < 0.21
    probes[1].moving = False  # a twin that rests bears no witness
    minutes(probes, 1, begin=at + 30 * MINUTE_MS)
    assert probes[0].twin.unshared == 0.0
    assert probes[1].twin.unshared < 0.01
