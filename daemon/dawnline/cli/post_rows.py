"""How the post is doing, as `status` and `alarms list` show it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo


def post_rows(post: Mapping[str, Any], zone: ZoneInfo) -> list[str]:
    """What waits, who cannot be reached, what was given up; nothing where all arrives."""
    rows = [f"messages not delivered yet: {post['open']}"] if post.get("open") else []
    rows += [f"  {person} cannot be reached: {why}" for person, why in post.get("failing", {}).items()]
    given_up = post.get("given_up", [])
    rows += ["messages given up in the last days, `dawnline check --notify` tries every address:"] if given_up else []
    for each in given_up:
        when = f"{datetime.fromtimestamp(each['at'] / 1000, zone):%a %d %b %H:%M}"
        rows.append(f"  {when}  to {each['person']}, {each['priority']}: {each['subject']}: {each['why']}")
    return rows


def heartbeat_rows(heartbeat: Mapping[str, Any] | None) -> list[str]:
    """How the heartbeat is doing; nothing where none is configured."""
    if not heartbeat:
        return []
    counts = f"{heartbeat['sent']} taken, {heartbeat['failed']} failed, {heartbeat['withheld']} withheld"
    failing = f"; since then: {heartbeat['failing']}" if heartbeat["failing"] else ""
    return [f"heartbeat since the start: {counts}{failing}"]
