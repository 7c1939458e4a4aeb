from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from pydantic import ValidationError

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.errors import SettingsError
from dawnline.quality.gap import SHORTEST_MS
from dawnline.quality.settings import settled
from dawnline.quantity import QUANTITIES
from dawnline.settings import Settings, find_config, load

HERE = Path(__file__).parent
GOOD = sorted((HERE / "good").glob("*.toml"))
EXAMPLES = sorted(p for p in (HERE.parent.parent / "config").glob("*.toml") if not p.name.startswith("texts."))


@pytest.mark.parametrize("path", GOOD + EXAMPLES, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_a_good_file_loads(path: Path) -> None:
    settings = load(path)
    assert settings.path == path
    assert settings.folder == path.parent
    assert settings.probes


def test_what_the_file_says_arrives() -> None:
    settings = load(HERE / "good" / "everything.toml")
    assert settings.pond.volume_litres == 14000
    assert [probe.name for probe in settings.probes] == ["ph", "t", "water", "rain"]
    assert settings.probes[0].span == (0, 14)
    quality = settings.probes[0].quality
    assert quality is not None
    assert quality.off == ("gap",)
    assert quality.flat.cap == 12 * HOUR_MS
    assert quality.climatology.spans == {1: (7, 8.5), 7: (6.8, 9.5)}
    assert settings.probes[1].quality is None
    assert settings.limits.comfort == (6.8, 8.2)
    assert settings.people[1].priority == "high"
    assert settings.alarms["ph-low"].on_delay == 20 * MINUTE_MS
    assert settings.alarms["ph-low"].off_delay == HOUR_MS
    assert settings.mail is not None
    assert settings.mail.port == 465


def test_the_example_tells_the_thresholds_that_hold(tmp_path: Path) -> None:
    example = (HERE.parent.parent / "config" / "dawnline.toml").read_text(encoding="utf-8")
    begin, end = example.index("# [probes.quality]"), example.index('[[probes]]\nname = "water"')
    path = tmp_path / "told.toml"
    path.write_text(example[:begin] + re.sub("(?m)^# ", "", example[begin:end]) + example[end:], encoding="utf-8")
    told, usual = settled("ph", load(path).probes[0].quality), settled("ph")
    assert told.usual == QUANTITIES["ph"].usual
    for check in ("spike", "rate", "flat", "attenuated"):
        assert getattr(told, check) == getattr(usual, check)
    assert told.climatology.margin == usual.climatology.margin
    assert told.gap.after == SHORTEST_MS


def test_relative_paths_start_at_the_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "ponds"
    (folder / "secrets").mkdir(parents=True)
    (folder / "secrets" / "mqtt").write_text("hunter2\n", encoding="utf-8")
    (folder / "dawnline.toml").write_bytes((HERE / "good" / "everything.toml").read_bytes())
    monkeypatch.chdir(tmp_path)
    settings = load(Path("ponds/dawnline.toml"))
    assert settings.store.path.resolve() == folder / "pond.db"
    assert settings.mqtt is not None
    assert settings.mqtt.ca_file is not None
    assert settings.mqtt.ca_file.resolve() == folder / "ca.crt"
    assert settings.mqtt.password is not None
    assert settings.mqtt.password.reveal() == "hunter2"


def test_settings_are_frozen() -> None:
    settings = load(HERE / "good" / "smallest.toml")
    with pytest.raises(ValidationError, match="frozen"):
        settings.pond = settings.pond  # type: ignore[misc]


def test_path_is_never_taken_from_the_content(tmp_path: Path) -> None:
    path = tmp_path / "pond.toml"
    path.write_text('path = "x"\nfolder = "y"\n' + (HERE / "good" / "smallest.toml").read_text(), encoding="utf-8")
    with pytest.raises(SettingsError, match="path: found an unknown key"):
        load(path)


def test_defaults_are_those_of_the_models() -> None:
    settings = load(HERE / "good" / "smallest.toml")
    assert settings.limits.ph_low == 6.5
    assert (settings.mqtt, settings.mail, settings.people, settings.alarms) == (None, None, (), {})


def test_the_configuration_is_looked_for_in_order(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("DAWNLINE_CONFIG", raising=False)
    assert find_config(None) == Path("dawnline.toml")
    monkeypatch.setenv("DAWNLINE_CONFIG", "")
    assert find_config(None) == Path("dawnline.toml")
    monkeypatch.setenv("DAWNLINE_CONFIG", "/etc/pond.toml")
    assert find_config(None) == Path("/etc/pond.toml")
    assert find_config("mine.toml") == Path("mine.toml")


def test_reading_the_settings_loads_no_heavy_library() -> None:
    # The page, `status` and `check` read them too, on a board with 512 MB.
    heavy = ("serial", "paho", "apprise", "sqlite3", "structlog", "influxdb_client", "requests")
    code = f"import dawnline.settings, sys; print([m for m in {heavy!r} if m in sys.modules])"
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    answer = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=True)
    assert answer.stdout.strip() == "[]"


def test_settings_can_be_made_without_a_file() -> None:
    made = Settings.model_validate(load(HERE / "good" / "smallest.toml").model_dump())
    assert made.folder == Path()


def test_how_a_rain_gauge_speaks() -> None:
    settings = load(HERE / "good" / "rain-gauges.toml")
    assert [probe.speech for probe in settings.probes] == [
        ("accumulation", pytest.approx(13107.2)), ("amount", None), ("accumulation", pytest.approx(6553.6)),
    ]  # fmt: skip
    assert settings.pond.rain_depth_mm == pytest.approx(14000 / (12 + 34))
