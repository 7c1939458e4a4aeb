"""Courses of the buffer through known acts, checked by going forward again."""

from __future__ import annotations

from math import inf, log10

import pytest

from dawnline.outlook.buffer_course import ADDED, DILUTED, FED, NIGHT, TEST, TIMES, Course, Mark, needs_scale, trace


def test_a_straight_line_runs_to_zero() -> None:
    assert Course(8.0).share(4.0) == 0.5
    assert Course(8.0).share(8.0) == 0.0
    assert Course(inf).share(100.0) == 1.0


def test_a_bend_comes_to_rest_on_its_floor_and_begins_as_steep() -> None:
    bend = Course(8.0, 0.4)
    assert bend.share(1e-6) == pytest.approx(Course(8.0).share(1e-6), abs=1e-9)
    assert bend.share(200.0) == pytest.approx(0.4)


@pytest.mark.parametrize("course", [Course(8.0), Course(-30.0), Course(inf), Course(8.0, 0.4)])
def test_without_acts_the_trace_is_the_course(course: Course) -> None:
    found = trace(course, [Mark(NIGHT, 0.0), Mark(NIGHT, 1.0), Mark(TEST, 0.5), Mark(NIGHT, 0.5)], 1.0)
    assert found is not None
    assert found[0] == pytest.approx([log10(course.share(-t)) for t in (0.0, 1.0, 2.0)])
    assert found[1] == pytest.approx([course.share(-1.5)])


@pytest.mark.parametrize("course", [Course(8.0), Course(-30.0), Course(inf), Course(8.0, 0.4)])
def test_small_steps_forward_follow_the_course(course: Course) -> None:
    share = 1.0
    for _ in range(4000):
        share = course.after(share, 0.001)
    assert share == pytest.approx(course.share(4.0), abs=1e-3)


def test_acts_are_undone_on_the_way_back() -> None:
    """Forward: 1.0 meq/L falls by 0.1 a day; day 1: a fifth exchanged for 2.0; day 2: 0.3 added; day 3: rain to 0.9."""
    level, seen = 1.0, [1.0]
    level = (level - 0.1) * 0.8 + 0.2 * 2.0
    level = level - 0.1
    seen.append(level)
    level = (level + 0.3 - 0.1) * 0.9
    marks = [Mark(TIMES, 0.0, 0.9), Mark(ADDED, 1.0, 0.3), Mark(NIGHT, 0.0), Mark(DILUTED, 1.0, 0.2, 2.0),
             Mark(NIGHT, 1.0)]  # fmt: skip
    found = trace(Course(level / 0.1), marks, level)
    assert found is not None
    assert [10**share * level for share in found[0]] == pytest.approx(list(reversed(seen)))
    assert needs_scale(marks)
    assert not needs_scale([Mark(TIMES, 1.0, 0.9), Mark(NIGHT, 0.0)])


def test_feed_halved_means_twice_the_rate_before() -> None:
    found = trace(Course(10.0), [Mark(NIGHT, 0.0), Mark(FED, 1.0, 2.0), Mark(NIGHT, 1.0)], 1.0)
    assert found is not None
    assert 10 ** found[0][1] == pytest.approx(1.0 + 0.1 + 0.2)


def test_a_course_that_contradicts_an_act_is_none() -> None:
    assert trace(Course(100.0), [Mark(NIGHT, 0.0), Mark(ADDED, 0.5, 2.0), Mark(NIGHT, 0.5)], 1.0) is None
