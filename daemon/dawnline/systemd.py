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


def patience_s() -> float | None:
    """How long systemd's watchdog waits for the next WATCHDOG=1 [s] (sd_watchdog_enabled(3)); None without one."""
    try:
        microseconds = int(os.environ.get("WATCHDOG_USEC", ""))
    except ValueError:
        return None
    return microseconds / 1e6 if microseconds > 0 else None
