"""How a probe speaks: text on a serial line, MQTT. Written from the protocol's description, with no decoder
of ours.
"""
