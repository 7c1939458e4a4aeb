"""The account in words: where it went, what is left, and where account and line disagree."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date

import pytest

from dawnline.account.account import Account, Days, Point
from dawnline.account.lines import ITEMS, Fed
from dawnline.account.words import LineDays, as_json, disagreement, headline, line_days, lines
from dawnline.duration import DAY_MS

WEEK = dict.fromkeys(ITEMS, 0.0) | {"feed": -0.3, "shell and the rest": 0.1, "doses": 0.5}
SAID = Account(
    30 * DAY_MS, (Point(30 * DAY_MS, 0.9, 0.08),), 4, 25 * DAY_MS, WEEK, 7.0, (-0.03, 0.04), -0.028, 0.006, 0.043,
    (0.015, 0.004), Fed(0, 200.0, None), 0.4, Days(11, 17, 30),
)  # fmt: skip


def text(account: Account, line: LineDays | None = None) -> str:
    return "\n".join(lines(account, line, UTC, 15_000.0))


def test_where_it_went_what_it_costs_and_what_is_left():
    words = text(SAID)
    assert "KH about 2.52 dKH (0.90 meq/L)" in words
    assert "from 4 tests of KH, the last on 1970-01-26" in words
    assert "feed                 -0.84   200 g a day as nitrified, 35 % protein presumed" in words
    assert "shell and the rest   +0.28   learned from tests; of it algae between -0.08 and +0.11" in words
    assert "doses                +1.40" in words
    assert "rain " not in words
    assert "in all               +0.84" in words
    assert "a day costs 0.08 dKH (0.06 to 0.10)" in words
    assert "by the account: 17 (11 to 30)" in words


@pytest.mark.parametrize(
    ("line", "says"),
    [
        (LineDays(Days(2, 4, 6), "falling"), "the line is 13 days sooner"),
        (LineDays(Days(40, 45, None), "falling"), "the line is 28 days later"),
        (LineDays(Days(10, 15, 25), "falling"), None),
        (LineDays(Days(None, None, None), "steady"), None),
    ],
)
def test_where_they_disagree_it_says_what_that_may_mean(line, says):
    found = disagreement(SAID, line)
    assert (says is None) == (found is None)
    if says is not None:
        assert says in found
        assert "check it in a buffer solution" in found
        assert "by the line through the dawn lows" in text(SAID, line)


def test_a_line_that_falls_while_the_tests_rise():
    grows = replace(SAID, a_day=0.05, days=Days(None, None, None))
    assert "by the tests of KH the buffer grows" in disagreement(grows, LineDays(Days(3, 5, 9), "falling"))


def test_no_feed_logged_and_an_old_test_are_said():
    words = text(replace(SAID, fed=None, last_test=2 * DAY_MS))
    assert "none is logged" in words
    assert "28 days ago, test again" in words


def test_without_an_account_it_says_why():
    assert text(Account(0, why_not="no test of KH")) == "no account: no test of KH"
    assert as_json(Account(0, why_not="no test of KH"), None, UTC)["why_not"] == "no test of KH"


def test_days_of_the_line_count_from_today():
    body = {"reaches_low_on": None, "earliest": "2026-06-10", "latest": "2026-06-20", "trend": "falling"}
    assert line_days(body, date(2026, 6, 8)) == LineDays(Days(2, None, 12), "falling")


def test_in_half_a_sentence():
    assert headline(SAID) == "KH is about 2.52 dKH and a day costs 0.08; 17 (11 to 30) days are left"
    assert headline(Account(0, why_not="no test of KH")) == ""


def test_json_books_the_same():
    found = as_json(SAID, LineDays(Days(2, 4, 6), "falling"), UTC)
    assert found["week_meq_l"]["doses"] == 0.5
    assert found["days"] == {"earliest": 11, "likely": 17, "latest": 30}
    assert found["line"]["likely"] == 4
    assert "sooner" in found["disagree"]
