"""The MQTT broker: its settings and one way to make a client for it, for the probes and for delivery."""

from __future__ import annotations
