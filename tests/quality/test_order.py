from __future__ import annotations

import pytest

from dawnline.quality.order import AHEAD_MS, REMEMBERED_SAID, Order
from dawnline.reading import Flag, Reason, Sample

GOOD = (Flag.GOOD, Reason.NONE)
T0 = 1_780_000_000_000


def sample(at: int, value: float = 7.0, received_at: int | None = None, *, dated: bool = True) -> Sample:
    return Sample("ph", at, value, at if received_at is None else received_at, dated)


def test_an_exact_repeat_is_dropped_and_counted() -> None:
    order = Order()
    assert order.push(sample(T0)) == GOOD
    assert order.push(sample(T0)) is None
    assert order.repeats == 1


def test_another_value_for_the_same_time_is_suspect() -> None:
    order = Order()
    order.push(sample(T0, 7.0))
    assert order.push(sample(T0, 7.1)) == (Flag.SUSPECT, Reason.REPEATED_TIME)


def test_a_late_comer_is_flagged_and_moves_nothing() -> None:
    order = Order()
    order.push(sample(T0))
    assert order.push(sample(T0 - 1, received_at=T0)) == (Flag.SUSPECT, Reason.OUT_OF_ORDER)
    assert order.last_at == T0
    assert order.push(sample(T0 + 1)) == GOOD


def test_an_undated_sample_is_not_evaluated_and_moves_nothing() -> None:
    order = Order()
    assert order.push(sample(T0 + 5, dated=False)) == (Flag.NOT_EVALUATED, Reason.UNDATED)
    assert order.last_at is None


@pytest.mark.parametrize(
    ("ahead", "verdict"), [(AHEAD_MS, GOOD), (AHEAD_MS + 1, (Flag.NOT_EVALUATED, Reason.AHEAD_OF_CLOCK))]
)
def test_a_sender_ahead_of_the_clock(ahead: int, verdict: tuple[Flag, Reason]) -> None:
    order = Order()
    assert order.push(sample(T0 + ahead, received_at=T0)) == verdict
    assert (order.last_at is None) == (verdict != GOOD)


def test_the_interval_is_learned_and_outlives_a_gap() -> None:
    order = Order()
    for i in range(20):
        order.push(sample(T0 + 10_000 * i))
    assert order.interval == 10_000
    order.push(sample(T0 + 8 * 3_600_000))
    assert order.interval == 10_000


def test_the_learned_interval_follows_a_probe_that_speaks_less_often() -> None:
    order, at = Order(), T0
    for gap in [10_000] * 20 + [900_000] * 20:
        at += gap
        order.push(sample(at))
    assert order.interval == 900_000


def test_the_memory_of_gaps_is_bounded() -> None:
    order = Order()
    for i in range(100):
        order.push(sample(T0 + 10_000 * i))
    assert len(order.gaps) == 15


def test_the_configured_interval_wins() -> None:
    order = Order(30_000)
    for i in range(5):
        order.push(sample(T0 + 10_000 * i))
    assert order.interval == 30_000


def test_what_a_board_sends_again_after_a_broken_link_is_dropped_whole() -> None:
    order = Order()
    sent = [sample(T0 + i * 10_000, 7.0 + i / 100) for i in range(60)]
    assert [order.push(each) for each in sent] == [GOOD] * 60
    again = [order.push(each._replace(received_at=T0 + 7_200_000)) for each in sent[-REMEMBERED_SAID:]]
    assert again == [None] * REMEMBERED_SAID
    assert order.repeats == REMEMBERED_SAID
    assert order.push(sample(T0 + 600_000, received_at=T0 + 7_200_000)) == GOOD


def test_a_late_comer_that_comes_twice_is_flagged_once() -> None:
    order = Order()
    order.push(sample(T0))
    late = sample(T0 - 5, 6.9, received_at=T0)
    assert order.push(late) == (Flag.SUSPECT, Reason.OUT_OF_ORDER)
    assert order.push(late) is None
