"""`[mqtt]`, the client ids, and the links that settings ask for."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from dawnline.broker import MqttSettings, Will, client_id, make_client
from dawnline.probes.intake import Intake, Receipt
from dawnline.probes.links.wiring import build_links
from dawnline.probes.settings import ProbeSettings


def _settings(**more: Any) -> MqttSettings:
    return MqttSettings.model_validate({"host": "broker.local", **more}, context={"folder": Path("/etc/pond")})


def test_defaults_and_paths_beside_the_configuration() -> None:
    plain, tls = _settings(keepalive="2m"), _settings(tls=True, ca_file="ca.crt")
    assert (plain.port, plain.keepalive, plain.tls) == (1883, 120_000, False)
    assert (tls.port, tls.ca_file) == (8883, Path("/etc/pond/ca.crt"))
    assert _settings(tls=True, port=1884).port == 1884
    assert _settings(tls=True, ca_file="/ca.crt").ca_file == Path("/ca.crt")


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"host": "a..b"}, "host name or address"),
        ({"host": "mqtt://broker"}, "host"),
        ({"host": ""}, "host"),
        ({"port": 0}, "port"),
        ({"keepalive": 60}, "its unit"),
        ({"keepalive": "1s"}, "keepalive"),
        ({"ca_file": "ca.crt"}, "tls = true"),
        ({"username": "pond", "password": "secret"}, "never written"),
        ({"password": "env:X"}, "username"),
        ({"client_id": "a/b"}, "client_id"),
        ({"qos": 2}, "qos"),
    ],
)
def test_a_mistake_in_the_settings_is_named(more: dict[str, Any], said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        _settings(**more)


def test_client_ids_differ_by_pond_and_role_and_stay_the_same() -> None:
    ids = {
        client_id(_settings(), pond, role)
        for pond in ("Teich 1", "Teich-1", "池", "沼")
        for role in ("probes", "state")
    }
    assert len(ids) == 8
    assert client_id(_settings(), "Teich 1", "probes") in ids
    assert client_id(_settings(client_id="mine"), "Teich 1", "probes") == "mine-probes"


def test_a_client_with_a_will_and_a_password(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("POND", "secret")
    client = make_client(
        _settings(username="pond", password="env:POND"),
        client_id="x",
        clean_session=True,
        will=Will("pond/state", "lost"),
    )
    assert (client.username, client.password) == ("pond", "secret")
    assert (client.will_topic, client.will_payload) == ("pond/state", b"lost")


def _probe(name: str, **more: Any) -> ProbeSettings:
    return ProbeSettings(name=name, quantity="ph", **more)


def test_probes_on_one_port_share_a_link_and_all_topics_share_one() -> None:
    links = build_links(
        [
            _probe("ph", link="serial", port="/dev/a"),
            _probe("water", link="serial", port="/dev/a", key="temp"),
            _probe("deep", link="serial", port="/dev/b"),
            _probe("rain", link="mqtt", topic="garden/rain"),
            _probe("air", link="mqtt", topic="garden/air"),
        ],
        _settings(),
        Intake(lambda: 0),
        [Receipt("mqtt:broker.local:1883", 7, b"12345678")],
    )
    assert [(link.name, link.window) for link in links] == [
        ("serial:/dev/a", None),
        ("serial:/dev/b", None),
        ("mqtt:broker.local:1883", 20),
    ]
    assert {link.report().state for link in links} == {"new"}
    assert links[0].report().as_json()["bad"] == {}


def test_libraries_are_loaded_only_for_links_that_are_there() -> None:
    code = (
        "import sys\nfrom dawnline.probes.links.wiring import build_links\nimport dawnline.broker\n"
        "from dawnline.probes.intake import Intake\nfrom dawnline.probes.settings import ProbeSettings\n"
        "ph = ProbeSettings(name='ph', quantity='ph', link='serial', port='/dev/a')\n"
        "build_links([ph], None, Intake(lambda: 0))\n"
        "assert 'serial' in sys.modules and not any(m.startswith('paho') for m in sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
