"""The descriptor of an export: `datapackage.json` after the open Data Package standard, version 2.

Source: https://datapackage.org/standard/data-package/ and /table-schema/ (field names from memory of
version 2.0; the tests check an export against the rules typed there).
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import time
from pathlib import Path
from typing import Any

import msgspec

from nightround.foundation import clock as clocks
from nightround.foundation.clock import RoomClock
from nightround.journal.tables import forecasts
from nightround.journal.tables.columns import Column
from nightround.journal.tables.layout import TABLES
from nightround.journal.tables.results import RoomSettings

DESCRIPTOR = "datapackage.json"
_SCHEMA = "https://datapackage.org/profiles/2.0/datapackage.json"
_RESOURCE = "https://datapackage.org/profiles/2.0/dataresource.json"
_TABLE_SCHEMA = "https://datapackage.org/profiles/2.0/tableschema.json"
_MARK = "nightround-room"


def describe(written: Mapping[str, Path], clock: RoomClock, settings: RoomSettings) -> bytes:
    """Return the descriptor of the written tables (name → file) as JSON."""
    package = {
        "$schema": _SCHEMA,
        "name": _MARK,
        "title": settings.name or "Spider room",
        "description": "The journal of one room as plain tables; docs/tables.md of Nightround explains them."
        + (" INVENTED: a demonstration, nobody's records." if settings.invented else ""),
        "created": clocks.now().isoformat(timespec="seconds"),
        "nightround": {
            "time_zone": clock.zone_name,
            "turns_at": clock.turns_at.isoformat("minutes"),
            "invented": settings.invented,
        },
        "resources": [_resource(name, path) for name, path in written.items()],
    }
    return msgspec.json.format(msgspec.json.encode(package), indent=2) + b"\n"


def _resource(name: str, path: Path) -> dict[str, Any]:
    content = path.read_bytes()
    table = TABLES.get(name)
    says, columns = (table.says, table.columns) if table else (forecasts.SAYS, forecasts.COLUMNS)
    return {
        "$schema": _RESOURCE,
        "name": name,
        "type": "table",
        "path": path.name,
        "description": says,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": len(content),
        "hash": f"sha256:{hashlib.sha256(content).hexdigest()}",
        "schema": {
            "$schema": _TABLE_SCHEMA,
            "fields": [_field(column) for column in columns if column.role != "fahrenheit"],
            "missingValues": [""],
        },
    }


def _field(column: Column) -> dict[str, Any]:
    described: dict[str, Any] = {"name": column.name, "type": column.type, "description": column.says}
    if column.unit:
        described["unit"] = column.unit
    if column.example:
        described["example"] = column.example
    return described


def _package(folder: Path) -> dict[str, Any] | None:
    path = folder / DESCRIPTOR
    if not path.is_file():
        return None
    try:
        package = msgspec.json.decode(path.read_bytes())
    except msgspec.DecodeError:
        return None
    return package if isinstance(package, dict) and package.get("name") == _MARK else None


def exported_files(folder: Path) -> set[str] | None:
    """Return the names of the files that an export consists of; None when the folder is no export."""
    package = _package(folder)
    if package is None:
        return None
    resources = package.get("resources")
    listed = resources if isinstance(resources, list) else []
    return {DESCRIPTOR, *(str(entry.get("path")) for entry in listed if isinstance(entry, dict))}


def read_settings(folder: Path) -> RoomSettings | None:
    """Return the settings of the room that a folder was exported from; None when it is no export."""
    package = _package(folder)
    if package is None:
        return None
    own = package.get("nightround")
    own = own if isinstance(own, dict) else {}
    try:
        turns_at = time.fromisoformat(str(own.get("turns_at", "04:00")))
    except ValueError:
        turns_at = time(4)
    zone = str(own.get("time_zone", "UTC"))
    return RoomSettings(str(package.get("title", "")), zone, turns_at, own.get("invented") is True)
