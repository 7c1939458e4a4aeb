"""The MQTT client: paho's, reading what has come in large pieces.

The library asks the kernel three times for each message, and waits for the next one in between. Each time Python lets
another thread run and has to wait for its turn again: with a hundred ponds that is most of what a message costs.
"""

from __future__ import annotations

from typing import Final

from paho.mqtt.client import Client
from paho.mqtt.enums import MQTTErrorCode

PIECE: Final = 65_536


class PieceClient(Client):
    """As `Client`. Should another version of the library not call `_sock_recv`, it reads as it always did."""

    _piece: bytes = b""
    _taken: int = 0
    _piece_of: object = None  # the socket that it came from

    def _sock_recv(self, bufsize: int) -> bytes:
        if self._piece_of is not self._sock or self._taken >= len(self._piece):
            self._piece, self._taken, self._piece_of = super()._sock_recv(max(bufsize, PIECE)), 0, self._sock
        found = self._piece[self._taken : self._taken + bufsize]
        self._taken += len(found)
        return found

    def loop_read(self, max_packets: int = 1) -> MQTTErrorCode:
        """Handle every packet of the piece: nobody waits for what is here already."""
        code = super().loop_read(max_packets)
        while code == MQTTErrorCode.MQTT_ERR_SUCCESS and self._sock is not None and self._left():
            code = super().loop_read(max_packets)
        return code

    def _left(self) -> bool:
        return self._piece_of is self._sock and self._taken < len(self._piece)
