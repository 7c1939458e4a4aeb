"""The figures on the page, those of `review --json`, and a separate computation with pandas over the raw table agree.

A week over each change of the clock, with a gap and with readings that are flagged. The computation shares nothing with
the fold but the definitions in the README: sunrise and sunset are those of another ephemeris.
"""

from __future__ import annotations

import contextlib
import csv
import json
import re
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from html.parser import HTMLParser
from importlib.util import find_spec
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from starlette.testclient import TestClient

from dawnline.cli.page import doors
from dawnline.page.app import Site
from dawnline.settings import Settings, load

from ..configuration import POND, serial
from ..machine import missing

ZONE = ZoneInfo("Europe/Berlin")
HOUR, MINUTE = 3_600_000, 60_000
INTERVAL = 30_000
LOW, HIGH = 7.1, 7.3
WEEKS = (date(2026, 3, 25), date(2026, 10, 21))  # the clock changes on the fifth day: one of 23 hours, one of 25
DAYS = 7
CONFIGURATION = (
    POND
    + serial("ph", "ph", "/dev/no-such-port", 'interval = "30s"')
    + serial("water", "temperature", "/dev/no-such-port", 'key = "temp"', 'interval = "30s"')
    + "[limits]\nph_low = 7.1\nph_high = 7.3\n"
)


def midnight(on: date) -> int:
    return round(datetime(on.year, on.month, on.day, tzinfo=ZONE).timestamp() * 1000)


class Rows(HTMLParser):
    """The cells of every table, row by row, under the names of their columns."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.rows: list[dict[str, str]] = []
        self.name: str | None = None
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        given = dict(attrs)
        if tag == "tr":
            self.rows.append({})
        elif tag in ("td", "th") and "data-name" in given:
            self.name = given["data-name"]
            self.rows[-1][self.name] = ""

    def handle_endtag(self, tag: str) -> None:
        if tag in ("td", "th"):
            self.name = None

    def handle_data(self, data: str) -> None:
        if self.name is not None:
            self.rows[-1][self.name] += data


@pytest.fixture(scope="module", params=WEEKS, ids=("spring", "autumn"))
def pond(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Settings, date]:
    """A week and a little more in a store; in it a silence of five hours, and a probe that jumps for a while."""
    for name in ("pandas", "ephem"):
        if find_spec(name) is None:
            missing(f"{name} (dependency group oracle)")
    first, folder = request.param, tmp_path_factory.mktemp("numbers")
    (folder / "dawnline.toml").write_text(CONFIGURATION)
    words = ["--scenario", "buffer-runs-out", "--days", str(DAYS + 1), "--interval", "30s", "--seed", "3"]
    start = datetime.fromtimestamp(midnight(first) / 1000, ZONE).isoformat()
    write = [sys.executable, "-m", "dawnline_simulator", "write", *words, "--start", start, str(folder / "in.csv")]
    subprocess.run(write, check=True, capture_output=True)
    with (folder / "in.csv").open() as raw, (folder / "cut.csv").open("w") as cut:
        rows, out = csv.DictReader(raw), csv.writer(cut)
        out.writerow(["time", "ph", "water"])
        names = [name for name in rows.fieldnames or [] if name != "time"]
        for number, row in enumerate(rows):
            hours = number * INTERVAL / HOUR
            if 50 <= hours < 55:
                continue
            ph = "15.2" if 74 <= hours < 74.5 and number % 3 == 0 else row[names[0]]
            out.writerow([row["time"], ph, row[names[1]]])
    replay = [sys.executable, "-m", "dawnline.cli", "--config", str(folder / "dawnline.toml"), "replay"]
    subprocess.run(
        [*replay, str(folder / "cut.csv"), "--store", str(folder / "pond.db")], check=False, capture_output=True
    )
    return load(folder / "dawnline.toml"), first


@pytest.fixture
def client(pond: tuple[Settings, date]) -> Iterator[TestClient]:
    opened = TestClient(Site([doors(pond[0])]).app(), base_url="http://127.0.0.1:8078", follow_redirects=False)
    yield opened
    opened.close()


def raw(store: Path, probe: str) -> Any:
    """The table of readings as it is, of one probe, by time: the good ones."""
    import pandas as pd

    with contextlib.closing(sqlite3.connect(store)) as db:
        table = pd.read_sql_query(
            "SELECT at, value, flag FROM readings JOIN probes ON probes.id = probe WHERE name = ? ORDER BY at, n", db,
            params=(probe,),
        )  # fmt: skip
    assert (table.flag != 1).any() == (probe == "ph")
    return table[table.flag == 1].reset_index(drop=True)


def light(on: date) -> tuple[int, int]:
    """Sunrise and sunset [ms] by PyEphem, the sun's centre 50 arc minutes below the horizon, without refraction."""
    import ephem

    place = ephem.Observer()
    place.lat, place.lon, place.horizon, place.pressure = "47.95", "8.21", "-0:50", 0
    place.date = ephem.Date(datetime.fromtimestamp(midnight(on) / 1000, ZoneInfo("UTC")).replace(tzinfo=None))
    sun = ephem.Sun()

    def ms(at: Any) -> int:
        return round(at.datetime().replace(tzinfo=ZoneInfo("UTC")).timestamp() * 1000)

    return ms(place.next_rising(sun)), ms(place.next_setting(sun))


def computed(store: Path, first: date) -> dict[str, dict[str, Any]]:
    """Each day's figures, out of the raw table alone."""
    import pandas as pd

    good = raw(store, "ph")
    held_to = pd.concat([good["at"].shift(-1), good["at"] + 3 * INTERVAL], axis=1).min(axis=1)
    by_minute = good.groupby(good["at"] // MINUTE)["value"].median()
    by_minute.index = pd.to_datetime(by_minute.index * MINUTE + MINUTE // 2, unit="ms")
    smooth = by_minute.rolling("15min", min_periods=3).median().dropna()
    times = pd.Series(by_minute.index.astype("datetime64[ms]").astype("int64"), index=by_minute.index)
    centre = (times.rolling("15min", min_periods=3).min().dropna() + times[smooth.index]) // 2
    found = {}

    def within(begin: int, end: int) -> Any:
        return (held_to.clip(upper=end) - good["at"].clip(lower=begin)).clip(lower=0)

    def extreme(begin: int, end: int, way: str) -> tuple[float | None, int | None]:
        """Where six tenths of the window were seen."""
        points = smooth[(centre >= begin) & (centre < end)]
        if within(begin, end).sum() < 0.6 * (end - begin):
            return None, None
        at = points.idxmin() if way == "low" else points.idxmax()
        return points[at], centre[at]

    for number in range(DAYS):
        on = first + timedelta(days=number)
        start, end, (rise, fall) = midnight(on), midnight(on + timedelta(days=1)), light(on)
        noon = round(datetime(on.year, on.month, on.day, 12, tzinfo=ZONE).timestamp() * 1000)
        low, low_at = extreme(start, rise + 4 * HOUR, "low")
        high, high_at = extreme(noon, min(fall + 2 * HOUR, end), "high")
        span = within(start, end)
        held = span.sum()
        found[str(on)] = {
            "dawn_low": low, "dawn_low_at": low_at, "dusk_high": high, "dusk_high_at": high_at,
            "swing": None if low is None or high is None else high - low, "mean": (span * good["value"]).sum() / held,
            "minutes_below": span[good["value"] < LOW].sum() / MINUTE,
            "minutes_above": span[good["value"] > HIGH].sum() / MINUTE, "coverage": held / (end - start),
        }  # fmt: skip
    return found


def printed(settings: Settings, first: date) -> list[dict[str, Any]]:
    """What `review --json` prints."""
    last = first + timedelta(days=DAYS - 1)
    words = ["review", "--from", str(first), "--to", str(last), "--json"]
    line = [sys.executable, "-m", "dawnline.cli", "--config", str(settings.path), *words]
    done = subprocess.run(line, check=True, capture_output=True, text=True)
    return [json.loads(row) for row in done.stdout.splitlines()]


def shown(html: str, first: date) -> dict[str, dict[str, str]]:
    """The page's table of days, by date."""
    names = {f"{on:%a} {on.day} {on:%b}": str(on) for on in (first + timedelta(days=n) for n in range(DAYS))}
    return {names[row["day"]]: row for row in Rows(html).rows if row.get("day") in names}


def agree(settings: Settings, first: date, client: TestClient) -> None:
    """All three say the same of each day; times to the minute, but for what two ephemerides differ in."""
    last = first + timedelta(days=DAYS - 1)
    own = computed(settings.store.path, first)
    told = {row["date"]: row for row in printed(settings, first) if row["event"] == "day"}
    page = shown(client.get(f"/days?from={first}&to={last}").text, first)
    assert own.keys() == told.keys() == page.keys()
    for on, figures in own.items():
        for key, value in figures.items():
            if value is None:
                assert told[on][key] is None, (on, key)
            elif key.endswith("_at"):
                at = round(datetime.fromisoformat(told[on][key]).timestamp() * 1000)
                assert abs(at - value) <= MINUTE, (on, key)
            else:
                assert told[on][key] == pytest.approx(value, abs=6e-4), (on, key)
        row = page[on]
        for name, key in (("dawn low", "dawn_low"), ("dusk high", "dusk_high")):
            at = told[on][f"{key}_at"]
            clock = at and datetime.fromisoformat(at).strftime("%H:%M")
            assert row[name] == ("\N{EN DASH}" if at is None else f"{figures[key]:.2f} {clock}"), (on, name)
        swing = figures["swing"]
        assert row["swing"] == ("\N{EN DASH}" if swing is None else f"{swing:.2f}")
        assert row["mean"] == f"{figures['mean']:.2f}"
        assert row["seen"] == f"{figures['coverage']:.0%}"
        for name, key in ((f"below {LOW}", "minutes_below"), (f"above {HIGH}", "minutes_above")):
            assert minutes(row[name]) == pytest.approx(figures[key], abs=0.51), (on, name)


def minutes(text: str) -> float:
    """A duration as the page shows it [min].

    >>> minutes("20 h 57 min")
    1257.0
    """
    size = {"d": 1440.0, "h": 60.0, "min": 1.0, "s": 1 / 60}
    return sum(float(number) * size[unit] for number, unit in re.findall(r"([\d.]+) (d|h|min|s)\b", text))


def test_the_days(pond: tuple[Settings, date], client: TestClient) -> None:
    agree(*pond, client)
    own = computed(pond[0].store.path, pond[1])
    assert min(day["coverage"] for day in own.values()) < 0.85  # the silence counts
    assert [day["dawn_low"] is None for day in own.values()].count(True) == 1
    assert all(max(day[key] for day in own.values()) > 60 for key in ("minutes_below", "minutes_above"))


def test_it_would_be_noticed(pond: tuple[Settings, date], client: TestClient) -> None:
    """A reading that were left out, and a figure of the store that were another one."""
    settings, first = pond
    with contextlib.closing(sqlite3.connect(settings.store.path)) as db:
        at = midnight(first + timedelta(days=1))
        for change in (
            ("UPDATE days SET mean = mean + 0.01 WHERE date = ?", (str(first),)),
            ("UPDATE readings SET flag = 3 WHERE at BETWEEN ? AND ?", (at, at + 10 * MINUTE)),
        ):
            db.execute("BEGIN")
            db.execute(*change)
            db.commit()
            with pytest.raises(AssertionError):
                agree(settings, first, client)
            db.execute("UPDATE days SET mean = mean - 0.01 WHERE date = ? AND ?", (str(first), "days" in change[0]))
            db.execute("UPDATE readings SET flag = 1 WHERE at BETWEEN ? AND ?", (at, at + 10 * MINUTE))
            db.commit()
    agree(settings, first, client)


def test_the_other_probe(pond: tuple[Settings, date], client: TestClient) -> None:
    settings, first = pond
    last = first + timedelta(days=DAYS - 1)
    good = raw(settings.store.path, "water")
    week = good[(good["at"] >= midnight(first)) & (good["at"] < midnight(last + timedelta(days=1)))]["value"]
    told = next(row for row in printed(settings, first) if row["event"] == "probe" and row["probe"] == "water")["this"]
    assert (told["lowest"], told["highest"]) == (week.min(), week.max())
    assert told["mean"] == pytest.approx(week.mean(), abs=6e-4)
    page = client.get(f"/days?from={first}&to={last}").text
    (row,) = [each for each in Rows(page).rows if each.get("probe") == "water"]
    assert [row[key] for key in ("lowest", "mean", "highest")] == [
        f"{value:.1f} \N{DEGREE SIGN}C" for value in (week.min(), week.mean(), week.max())
    ]


@pytest.mark.parametrize(("hour", "hours"), [(3, 1), (1, 2), (0, 24), (-30, 72), (20.25, 3)])
def test_looked_at_closer(pond: tuple[Settings, date], client: TestClient, hour: float, hours: float) -> None:
    """From an hour on, over the change of the clock as well: every extreme is drawn, and every reading counted."""
    settings, first = pond
    start = midnight(first + timedelta(days=4)) + round(hour * HOUR)
    end = start + round(hours * HOUR)
    times = {name: datetime.fromtimestamp(at / 1000, ZONE).isoformat() for name, at in (("from", start), ("to", end))}
    html = client.get("/close-up", params=times).text
    rows = {row["probe"]: row for row in Rows(html).rows if "good readings" in row}
    for probe, unit in (("ph", "{:.2f} "), ("water", "{:.1f} \N{DEGREE SIGN}C")):
        good = raw(settings.store.path, probe)
        inside = good[(good["at"] >= start) & (good["at"] < end)]["value"]
        row = rows[probe]
        assert int(row["good readings"]) == len(inside)
        for name, value in (("lowest", inside.min()), ("highest", inside.max()), ("mean", inside.mean())):
            assert f"{row[name]} ".startswith(unit.format(value)), (probe, name)
    drawn = re.search(r'<svg[^>]*data-first="(\d+)" data-last="(\d+)"', html)
    assert drawn is not None
    assert (int(drawn[1]), int(drawn[2])) == (start, end)
    (top, bottom), high, low = heights(html)
    good = raw(settings.store.path, "ph")
    inside = good[(good["at"] >= start) & (good["at"] < end)]["value"]
    assert top == pytest.approx(high(inside.max()), abs=0.11)
    assert bottom == pytest.approx(low(inside.min()), abs=0.11)


def heights(html: str) -> tuple[tuple[float, float], Any, Any]:
    """Highest and lowest place of what is drawn of pH, and how a value turns into a place, by the rules' labels."""
    figure = html[html.index("<svg") : html.index("</svg>")]
    spread = re.search(r'<path d="([^"]+)" class="spread"/>', figure)
    assert spread is not None
    places = [float(y) for _, y in re.findall(r"([\d.]+) ([\d.]+)", spread[1])]
    labels = [(float(t), float(y) - 4) for y, t in re.findall(r'y="([\d.]+)" class="end soft">([\d.]+)<', figure)]
    (v0, y0), (v1, y1) = labels[0], labels[-1]

    def place(value: float) -> float:
        return y0 + (y1 - y0) * (value - v0) / (v1 - v0)

    return (min(places), max(places)), place, place
