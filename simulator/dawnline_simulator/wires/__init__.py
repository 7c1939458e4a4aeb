"""How a probe speaks: text on a serial line, MQTT, Modbus RTU, 1-Wire files. Written from the protocol's description,
with no decoder of ours.
"""
