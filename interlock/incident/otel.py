"""Events and seconds in the shape of OpenTelemetry's JSON (OTLP/JSON, one export request a line, as its file exporter writes).

64-bit whole numbers are strings there, times are nanoseconds since 1970, severities are numbers from 1 to 24.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import datetime, timedelta, timezone
from typing import Any

import msgspec

from interlock.incident.recorded import refold
from interlock.journal import Record, RecordMeta
from interlock.sentences import sentence
from interlock.showfile.show import Show
from interlock.watch.seconds import HouseRow, LinkRow, seconds_of
from interlock.watch.state import AlarmLine, ErrorLine, Line

_EPOCH = datetime(1970, 1, 1, tzinfo=timezone(timedelta(0)))
_INFO, _WARN, _ERROR, _ERROR3 = 9, 13, 17, 19
_ALARM_SEVERITY = {"low": (_WARN, "WARN"), "medium": (_ERROR, "ERROR"), "high": (_ERROR3, "ERROR3")}

_HOUSE = (("frame", "{frame}"), ("sigma_fr", "{frame}"), ("speed_fps", "{frame}/s"))
_LINK = (("drift_fr", "{frame}"), ("sigma_fr", "{frame}"), ("rate_fps", "{frame}/s"))


def nanoseconds(at: str) -> str:
    """Of a line's ``at``, exactly (milliseconds do not survive a float of seconds)."""
    return str((datetime.fromisoformat(at) - _EPOCH) // timedelta(microseconds=1) * 1000)


def any_value(value: object) -> dict[str, Any]:
    """A value as OTLP's AnyValue."""
    if isinstance(value, bool):
        return {"boolValue": value}
    if isinstance(value, int):
        return {"intValue": str(value)}
    if isinstance(value, float):
        return {"doubleValue": value} if math.isfinite(value) else {"stringValue": str(value)}
    if isinstance(value, dict):
        return {"kvlistValue": {"values": attributes(value)}}
    if isinstance(value, list | tuple):
        return {"arrayValue": {"values": [any_value(v) for v in value]}}
    return {"stringValue": str(value)}


def attributes(values: dict[str, Any]) -> list[dict[str, Any]]:
    """Keys and values; what is not known is left out, as OTLP wants it."""
    return [{"key": str(k), "value": any_value(v)} for k, v in values.items() if v is not None]


def _resource(meta: RecordMeta) -> dict[str, Any]:
    return {
        "attributes": attributes(
            {
                "service.name": "longlace",
                "service.version": meta.program,
                "longlace.show.title": meta.title,
                "longlace.rehearsal": meta.rehearsal,
            }
        )
    }


def log_line(meta: RecordMeta, n: int, line: Line) -> bytes:
    """One event as one ``resourceLogs`` document."""
    number, text = _INFO, "INFO"
    if isinstance(line, AlarmLine) and line.state == "unacknowledged":
        number, text = _ALARM_SEVERITY[line.priority]
    elif isinstance(line, ErrorLine):
        number, text = _WARN, "WARN"
    kind = str(line.__struct_config__.tag)
    given = msgspec.to_builtins(line)
    named = {f"longlace.{k}": v for k, v in given.items() if k not in ("kind", "at")}
    log = {
        "timeUnixNano": nanoseconds(line.at),
        "observedTimeUnixNano": nanoseconds(line.at),
        "severityNumber": number,
        "severityText": text,
        "eventName": f"longlace.{kind}",
        "body": {"stringValue": sentence(line) or kind},
        "attributes": attributes({**named, "longlace.input": n}),
    }
    return msgspec.json.encode(
        {
            "resourceLogs": [
                {
                    "resource": _resource(meta),
                    "scopeLogs": [{"scope": {"name": "longlace.desk"}, "logRecords": [log]}],
                }
            ]
        }
    )


def metric_lines(meta: RecordMeta, show: Show, record: Record) -> Iterator[bytes]:
    """Every second as one ``resourceMetrics`` document of gauges, one point a house or link; unknown ones are left out."""
    houses = [h.id for h in show.houses]
    links = [k.id for k in show.links]
    for _, _, lines in refold(show, record.meta.rehearsal, (x for _, x in record.inputs())):
        for s in seconds_of(lines):
            at = nanoseconds(s.at)
            metrics = [
                *_gauges("house", houses, list(s.houses), _HOUSE, at),
                *_gauges("link", links, list(s.links), _LINK, at),
            ]
            scope = {"scope": {"name": "longlace.desk"}, "metrics": metrics}
            yield msgspec.json.encode(
                {"resourceMetrics": [{"resource": _resource(meta), "scopeMetrics": [scope]}]}
            )


def _gauges(
    of: str,
    names: list[str],
    rows: list[HouseRow] | list[LinkRow],
    columns: tuple[tuple[str, str], ...],
    at: str,
) -> Iterator[dict[str, Any]]:
    for i, (key, unit) in enumerate(columns):
        points = [
            {"timeUnixNano": at, "asDouble": row[i], "attributes": attributes({f"longlace.{of}": name})}
            for name, row in zip(names, rows, strict=True)
            if row[i] is not None
        ]
        if points:
            yield {"name": f"longlace.{of}.{key}", "unit": unit, "gauge": {"dataPoints": points}}
