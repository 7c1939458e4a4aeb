"""Rows to an InfluxDB v2-compatible server: one request, one answer. The library is loaded with the first of these."""

from __future__ import annotations

import ssl
from collections.abc import Sequence
from typing import Any

from dawnline.delivery.forward.answer import AnswerError, Kind, refusal
from dawnline.delivery.forward.place import Row
from dawnline.delivery.forward.settings import InfluxSettings
from dawnline.secret import veiled

TIMEOUT_S = 10.0


class Influx:
    """A connection to one bucket. Readings are points of the measurement `reading`, tags `pond`, `probe`, `quantity`
    (and `n` for a further value of the same time), fields `value` and `flag`, times in milliseconds: a row sent twice
    is the same point.
    """

    def __init__(self, settings: InfluxSettings, pond: str) -> None:
        """Connects with the first write. Raises SettingsError where the token is not to be had."""
        import influxdb_client
        import urllib3
        from influxdb_client.client.write_api import SYNCHRONOUS

        self._settings, self._pond = settings, pond
        self._token = token = settings.token.reveal() if settings.token is not None else ""
        # No retries of its own: who sends decides when, and from where.
        self._library: Any = influxdb_client
        self._client: Any = self._library.InfluxDBClient(
            settings.url, token, org=settings.org, timeout=int(TIMEOUT_S * 1000), enable_gzip=True,
            ssl_ca_cert=None if settings.ca_file is None else str(settings.ca_file), retries=urllib3.Retry(0),
        )  # fmt: skip
        self._api = self._client.write_api(write_options=SYNCHRONOUS)
        self._opened = 0

    def write(self, rows: Sequence[Row]) -> bool:
        """Send these rows; returns whether the connection had to be made anew since the last time.

        Raises AnswerError.
        """
        from influxdb_client.rest import ApiException
        from urllib3.exceptions import HTTPError

        before = self._opened
        try:
            self._api.write(self._settings.bucket, self._settings.org, [self._point(row) for row in rows])
        except ApiException as error:
            headers: Any = error.headers or {}
            self._note_connections()
            raise refusal(
                error.status or 0, veiled(_said(error), self._token), headers.get("Retry-After"), headers.get("Date")
            ) from None  # fmt: skip
        except (HTTPError, OSError) as error:
            self._note_connections()
            if _is_certificate(error):
                raise AnswerError(Kind.SETUP, f"certificate refused ({error})"[:300], broken=True) from None
            raise AnswerError(Kind.LATER, veiled(f"no answer ({error})", self._token)[:300], broken=True) from None
        self._note_connections()
        return bool(before) and self._opened != before

    def _note_connections(self) -> None:
        """urllib3 opens a dropped connection again without a word; only its count tells."""
        pools: Any = self._client.api_client.rest_client.pool_manager
        self._opened = pools.connection_from_url(self._settings.url).num_connections

    def _point(self, row: Row) -> Any:
        point = (
            self._library.Point("reading")
            .tag("pond", self._pond)
            .tag("probe", row.place.probe)
            .tag("quantity", row.quantity)
        )
        if row.place.n:
            point.tag("n", str(row.place.n))
        return (
            point.field("value", float(row.value))
            .field("flag", row.flag)
            .time(row.place.at, self._library.WritePrecision.MS)
        )

    def close(self) -> None:
        """Let go of the connection."""
        self._client.close()


def _said(error: Any) -> str:
    return " ".join(str(getattr(error, "message", None) or error.body or error.reason or "").split())


def _is_certificate(error: BaseException) -> bool:
    seen: BaseException | None = error
    while seen is not None:
        if isinstance(seen, ssl.SSLCertVerificationError):
            return True
        seen = getattr(seen, "reason", None) if isinstance(getattr(seen, "reason", None), BaseException) else (
            seen.__cause__ or seen.__context__
        )  # fmt: skip
    return False
