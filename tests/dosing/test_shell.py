"""What shell has been delivering: from the account, or from two tests."""

from __future__ import annotations

import pytest

from dawnline.account.account import Account
from dawnline.account.lines import Fed
from dawnline.dosing.pond_water import Fact, PondWater
from dawnline.dosing.shell import Between, between_two_tests, shell

from .given import dkh

POND = PondWater(litres=Fact(15_000, "given"), celsius=Fact(20.0, "given"), ph=Fact(7.4, "given"))
FED = Fed(0, 200.0, 35.0)


def test_the_gain_of_the_account_as_shell():
    said = shell(POND, Account(1, tests=5, shell=(0.02, 0.005), a_day=-0.03, fed=FED))
    assert not said.refused
    assert dict(said.figures)["caco3_g_day"] == pytest.approx(0.02 * 15_000 * 50.0435 / 1000)
    assert "15 g of calcium carbonate dissolved a day" in " ".join(said.advice)
    assert "costs" in " ".join(said.advice)
    assert "Shell cannot be dosed" in said.cautions[0]


@pytest.mark.parametrize(("gain", "says"), [((0.002, 0.005), "cannot be told yet"), ((-0.02, 0.005), "That is a loss")])
def test_what_cannot_be_told_is_not_promised(gain, says):
    assert says in " ".join(shell(POND, Account(1, tests=5, shell=gain, fed=FED)).advice)


@pytest.mark.parametrize("account", [Account(1, why_not="no test of KH"), Account(1, tests=1, shell=(0.02, 0.001))])
def test_too_little_is_known(account):
    said = shell(POND, account)
    assert said.refused
    assert "a test of KH a week" in said.refusals[0].instead


def test_between_two_tests_as_far_as_the_drops_allow():
    """KH stays at 4 drops for 28 days of feed that takes 0.086 dKH a day: so much was given, within a drop."""
    said = between_two_tests(POND, Between((dkh(3), dkh(4)), (dkh(3), dkh(4)), 28.0, 200.0, 35.0))
    figures = dict(said.figures)
    assert figures["feed_meq_l_day"] == pytest.approx(dkh(0.086), rel=0.01)
    assert figures["gain_low_meq_l_day"] == pytest.approx(dkh(0.086 - 1 / 28), rel=0.02)
    assert figures["gain_high_meq_l_day"] == pytest.approx(dkh(0.086 + 1 / 28), rel=0.02)


def test_tests_of_one_day_are_no_basis():
    assert between_two_tests(POND, Between((1.0, 1.1), (1.0, 1.1), 0.1, 200.0, 35.0)).refused
