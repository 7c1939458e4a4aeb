"""The MQTT payload: a bare number, or a JSON object with the value under a key and, if wished, its time."""

from __future__ import annotations

from dawnline.probes.dialects.fields import Fields, bare_field, json_fields
from dawnline.probes.dialects.value import Refusal, Refused, shown

MAX_PAYLOAD_BYTES = 16_384
_UTF8_BYTE_ORDER_MARK = b"\xef\xbb\xbf"


def read_payload(payload: bytes) -> Fields | Refused:
    """The fields of one payload (UTF-8), or why it has none.

    >>> read_payload(b"7.12")
    {None: '7.12'}
    """
    if len(payload) > MAX_PAYLOAD_BYTES:
        return Refused(Refusal.TOO_LONG, shown(payload))
    if payload.startswith(_UTF8_BYTE_ORDER_MARK):
        return Refused(Refusal.BYTE_ORDER_MARK, shown(payload))
    try:
        text = payload.decode("utf-8").strip(" \t\r\n")
    except UnicodeDecodeError:
        return Refused(Refusal.NOT_UTF8, shown(payload))
    if not text:
        return Refused(Refusal.EMPTY, "")
    fields = json_fields(text) if text[0] in '{["' else bare_field(text)
    return Refused(fields, shown(text)) if isinstance(fields, Refusal) else fields
