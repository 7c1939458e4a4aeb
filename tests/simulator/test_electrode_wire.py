from __future__ import annotations

import pytest

from dawnline.electrode.calibration import IDEAL, MV, Calibration
from dawnline_simulator.cli import main
from dawnline_simulator.wires.electrode import Electrode, parse_electrode


@pytest.mark.parametrize("celsius", [3.0, 18.4, 31.0])
@pytest.mark.parametrize("ph", [5.5, 7.0, 9.1])
def test_two_hands_wrote_nernst_and_agree(ph: float, celsius: float) -> None:
    ours = Calibration(MV, 97.0, -6.0).measured(ph, celsius)
    assert Electrode(97.0, -6.0).millivolts(ph, celsius) == pytest.approx(ours, abs=0.01)
    assert Electrode(100.0, 0.0).millivolts(ph, celsius) == pytest.approx(IDEAL[MV].measured(ph, celsius), abs=0.01)


def test_the_option() -> None:
    assert parse_electrode("93.5,12") == Electrode(93.5, 12.0)
    for text in ("", "97", "97,x", "97,6,1", "0,0", "97,900", "nan,0"):
        with pytest.raises(ValueError, match=r"such as 97,-6"):
            parse_electrode(text)


def test_the_option_needs_a_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["run", "--scenario", "quiet-week", "--millivolts", "97,-6", "--onewire", "folder"]) == 2
    assert "--millivolts" in capsys.readouterr().err
