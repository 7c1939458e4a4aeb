"""`dawnline status`: now, and how old it is."""

from __future__ import annotations

import argparse
import json
from datetime import datetime
from pathlib import Path
from typing import Any, Final
from zoneinfo import ZoneInfo

from dawnline.cli.alarm_row import alarm_rows
from dawnline.cli.post_rows import heartbeat_rows, post_rows
from dawnline.cli.status_many import as_object, status_of_many, troubles
from dawnline.duration import show_duration
from dawnline.outlook.buffer_words import status_line
from dawnline.outlook.rain_book import rain_line
from dawnline.quantity import QUANTITIES, degrees
from dawnline.queries.present import Present, find_present
from dawnline.settings_ponds import find_configs, load_ponds
from dawnline.store.upkeep import damaged

_REFUSED: Final = {"cut short": "cut short, as the first line after connecting may be"}


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    parser.epilog = (
        "Exit status: 0 where the service runs, its links are connected, everybody can be reached, the store takes "
        "what is measured, no damaged record lies beside it and no alarm waits."
    )
    parser.add_argument("--json", action="store_true", help="as a JSON object; of many ponds, a list of such objects")


def run(args: argparse.Namespace) -> int:
    """Run it: 0 only where all is well, as the epilog says."""
    ponds = load_ponds(find_configs(args.config))
    if len(ponds) > 1:
        return status_of_many(ponds, as_json=args.json)
    settings = ponds[0]
    present = find_present(settings)
    aside = damaged(settings.store.path)
    if args.json:
        print(json.dumps(as_object(present, aside), ensure_ascii=False))
    else:
        print(degrees("\n".join(_lines(present, settings.pond.zone) + [_damaged(each) for each in aside])))
    return 0 if not aside and not troubles(present) else 1


def _lines(present: Present, zone: ZoneInfo) -> list[str]:
    data = present.data
    lines = [present.headline(), ""]
    for name, probe in data["probes"].items():
        lines += [_probe(name, probe, running=present.running), *_doubt(probe), *_calibration(probe)]
    doubted = {name for name, probe in data["probes"].items() if probe.get("doubt")}
    for day in data["today"]:
        lines.append(_today(day) + _mark(day["probe"] in doubted))
    lines += [_tonight(night) + _mark(night["probe"] in doubted) for night in data.get("tonight", [])]
    lines += [_no_night_yet(name, probe["nights_wanting"]) for name, probe in data["probes"].items()
              if probe.get("nights_wanting")]  # fmt: skip
    lines += [f"  {'buffer':<10} {status_line(data['buffer'])}"] if data.get("buffer") else []
    lines += [f"  {'rain':<10} {rain_line(data['rain'])}"] if data.get("rain") else []
    lines += [f"  {'ammonia':<10} {data['ammonia']['text']}"] if data.get("ammonia", {}).get("text") else []
    lines += _reminders(data.get("reminders", []))
    lines += _weekly(data.get("weekly"))
    lines += ["", "alarms:"] + (alarm_rows(data["alarms"]) or ["  none is open"])
    if data["links"]:
        lines += ["", "links:"] + [row for link in data["links"] for row in _link(link)]
    waiting = post_rows(data.get("post", {}), zone)
    lines += ["", *waiting] if waiting else []
    lines += heartbeat_rows(data.get("heartbeat"))
    lines += _store(data.get("store", {}))
    lines += _forwarding(data.get("forwarding"))
    if not data.get("clock_set", True):
        lines.append("the clock is not known to be set: times are provisional, days wait; `dawnline check` says why")
    if data.get("clock_behind_ms"):
        behind = show_duration(data["clock_behind_ms"])
        lines.append(f"the clock is {behind} behind the record; times go on from the record: set it")
    return lines


def _weekly(said: dict[str, Any] | None) -> list[str]:
    """The report of the week; nothing where nobody wishes it."""
    if said is None:
        return []
    before = "" if said["last_due"] is None else f", before that {_moment(said['last_due'])}"
    return [f"  {'report':<10} by mail to {', '.join(said['to'])}: next {_moment(said['next'])}{before}"]


def _moment(time: str) -> str:
    return f"{datetime.fromisoformat(time):%a %Y-%m-%d %H:%M}"


def _store(said: dict[str, Any]) -> list[str]:
    """What the store does not take, or lost; nothing where all is well."""
    rows = []
    if said.get("trouble"):
        room = f"{said['held']} readings are held in memory, which has room for {said['most']}"
        rows.append(f"not written now: {said['trouble']}; {room}, and are written when it can be")
    if (said.get("retention") or {}).get("waiting") is not None:
        rows.append("old raw readings are kept beyond [store] keep_raw: they wait to be copied to the central store")
    if said.get("lost"):
        rows.append(f"      {said['lost']} readings since the start were lost: memory was full")
    if said.get("gone"):
        names = ", ".join(f"{number} {name}" for name, number in said["gone"].items())
        rows.append(f"      not kept since the start, as memory was full: {names}; the newest of each incident are")
    if said.get("unfit"):
        rows.append(
            f"      {said['unfit']} entries since the start could not be stored; the log has them (not-storable)"
        )
    return rows


def _damaged(aside: Path) -> str:
    return f"a damaged record was set aside as {aside}: keep a copy of it; the line goes when the file is moved away"


def _forwarding(said: dict[str, Any] | None) -> list[str]:
    """The copy at a central store; nothing where there is none."""
    if said is None:
        return []
    upto = "nothing yet" if said["up_to"] is None else f"up to {said['up_to'][:19]}, {said['sent']} since the start"
    rows = ["", f"forwarded: {upto}" + (f"; not now: {said['trouble']}" if said["trouble"] else "")]
    if said["refused"]:
        last = said["last_refused"]
        rows.append(
            f"      {said['refused']} refused by the server, kept here; the last: {last['probe']}, {last['why']}"
        )
    return rows


def _probe(name: str, probe: dict[str, Any], *, running: bool) -> str:
    """A probe's value and how old it is; of a record that has ended, when it was read."""
    if probe["value"] is None:
        return f"  {name:<10} no reading yet"
    value = QUANTITIES[probe["quantity"]].show(probe["value"])
    if probe["quantity"] == "electrode_mv":
        value = f"{QUANTITIES['ph'].show(probe['ph'])} ({value})"
    value += " in all" if probe.get("gauge") == "accumulation" else ""
    age = f"{show_duration(probe['age_s'] * 1000)} old" if running else f"read {_moment(probe['time'])}"
    swing = f", swing of 24 h {probe['swing_24h']:.2f}" if probe.get("swing_24h") is not None else ""
    out = f", out of service until {_moment(probe['out_until'])}" if probe.get("out_until") else ""
    return f"  {name:<10} {degrees(value):<12} {probe['flag']}, {age}{swing}{out}"


def _doubt(probe: dict[str, Any]) -> list[str]:
    """What speaks against a probe whose readings look well one by one; nothing where nothing does."""
    return [f"  {'':<10} doubted: {probe['doubt']}"] if probe.get("doubt") else []


def _mark(doubted: bool) -> str:
    return "; doubted" if doubted else ""


def _calibration(probe: dict[str, Any]) -> list[str]:
    """What pH rests on; nothing for a probe of finished pH that nobody calibrated here."""
    held = probe.get("calibration")
    if held is None or (held["time"] is None and probe["quantity"] != "electrode_mv"):
        return []
    when = "" if held["time"] is None else f"{held['time'][:10]}: "
    warmth = f"; {probe['compensation']}" if probe["quantity"] == "electrode_mv" else ""
    return [f"  {'':<10} calibration: {when}{held['text']}{warmth}", *(f"  {'':<10} due: {why}" for why in held["due"])]


def _today(day: dict[str, Any]) -> str:
    parts = []
    for key, words in (("dawn_low", "dawn low"), ("dusk_high", "dusk high")):
        if day[key] is not None:
            parts.append(f"{words} {day[key]:.2f} at {datetime.fromisoformat(day[key + '_at']):%H:%M}")
    parts.append(f"{day['coverage']:.0%} of the day seen")
    return f"  today      {day['probe']}: " + ", ".join(parts)


def _tonight(night: dict[str, Any]) -> str:
    lows = ", ".join(f"{low:.2f}" for low in night["last_lows"])
    return (
        f"  tonight    {night['probe']}: low about {night['low']:.2f}, in eight nights of ten between "
        f"{night['low_p10']:.2f} and {night['low_p90']:.2f}, near {datetime.fromisoformat(night['at']):%H:%M}; "
        f"the last nights: {lows}"
    )


def _no_night_yet(name: str, wanting: int) -> str:
    return f"  tonight    {name}: foreseen once {wanting} more night{'s are' if wanting > 1 else ' is'} known"


def _reminders(rows: list[dict[str, Any]]) -> list[str]:
    """What is due by the logbook, else what comes next."""
    due = [f"  {'due':<10} {row['text']}" for row in rows if row["overdue"]]
    return due or [f"  {'next':<10} {row['text']}" for row in rows[:1]]


def _link(link: dict[str, Any]) -> list[str]:
    silent = "nothing yet" if link["silent_s"] is None else f"last heard {link['silent_s']:.0f} s ago"
    rows = [f"  {link['name']}: {link['state']}, {link['good']} good, {silent}, {link['reconnects']} reconnects"]
    rows += [
        f"      {count} refused: {_REFUSED.get(why, why)} (last: {link['last_refused'].get(why, '')!r})"
        for why, count in link["bad"].items()
    ]
    if link["unknown_names"]:
        rows.append(f"      names that no probe has: {', '.join(link['unknown_names'])}")
    if link["silent_probes"]:
        rows.append(f"      no answer when last asked: {', '.join(link['silent_probes'])}")
    if link["dropped"]:
        rows.append(f"      {link['dropped']} dropped: the queue was full, or the watch away")
    if link["last_error"]:
        rows.append(f"      last error: {link['last_error']}")
    return rows
