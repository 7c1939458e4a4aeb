"""Telling systemd that we are ready and alive; without systemd it does nothing."""

from __future__ import annotations

import os
import socket


def notify(message: str) -> None:
    """Send one message ("READY=1", "WATCHDOG=1", "STOPPING=1") to $NOTIFY_SOCKET, if there is one (sd_notify(3))."""
    address = os.environ.get("NOTIFY_SOCKET", "")
    if not address:
        return
    if address.startswith("@"):
        address = "\0" + address[1:]
    try:
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as channel:
            channel.sendto(message.encode(), address)
    except OSError:
        return  # a stale socket: systemd's watchdog will notice by itself
