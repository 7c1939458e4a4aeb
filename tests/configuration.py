"""The configuration that most tests begin with: a place and a store, to which they add what they are about."""

from __future__ import annotations


def place(name: str = "Heron Lane", store: str = "pond.db", *more: str) -> str:
    """[pond] and [store]; `more` are further lines of [pond], such as `volume_litres = 14000`."""
    where = ["latitude = 47.95", "longitude = 8.21", 'timezone = "Europe/Berlin"']
    return "\n".join(["", "[pond]", f'name = "{name}"', *where, *more, "[store]", f'path = "{store}"', ""])


def serial(name: str, quantity: str, port: str = "/dev/null", *more: str) -> str:
    """One probe on a serial port; `more` are further lines of it, such as `key = "temp"`."""
    return _probe(name, quantity, 'link = "serial"', f'port = "{port}"', *more)


def mqtt(name: str, quantity: str, topic: str, *more: str) -> str:
    """One probe by MQTT; `more` are further lines of it, such as `time_key = "time"`."""
    return _probe(name, quantity, 'link = "mqtt"', f'topic = "{topic}"', *more)


def person(name: str, address: str, *more: str) -> str:
    """Somebody who is told; `more` are further lines of theirs, such as `quiet = "none"`."""
    return "\n".join(["[[people]]", f'name = "{name}"', f'addresses = ["{address}"]', *more, ""])


def broker(port: int | str, *more: str) -> str:
    """[mqtt] of a broker on this machine; `more` are further lines of it, such as `client_id = "club"`."""
    return "\n".join(["[mqtt]", 'host = "127.0.0.1"', f"port = {port}", *more, ""])


def _probe(name: str, quantity: str, *lines: str) -> str:
    return "\n".join(["[[probes]]", f'name = "{name}"', f'quantity = "{quantity}"', *lines, ""])


POND = place()
