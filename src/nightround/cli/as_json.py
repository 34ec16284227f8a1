"""Reports as JSON: dates as YYYY-MM-DD, keys as text, unknown as null."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Iterable, Mapping
from datetime import date, datetime
from enum import Enum
from pathlib import Path
from typing import Any

import click

from nightround.foundation.when import When
from nightround.reports.forecast import AnimalForecast


def plain(value: Any) -> Any:
    """Return a frozen report as dicts, lists, texts and numbers."""
    if isinstance(value, When):
        return value.text() or None
    if dataclasses.is_dataclass(value):
        return {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {_key(key): plain(part) for key, part in value.items()}
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, Path):
        return str(value)
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(part) for part in value]
    if hasattr(value, "item"):  # a NumPy number
        value = value.item()
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _key(key: Any) -> str:
    return key.isoformat() if isinstance(key, date) else str(key)


def print_json(value: Any) -> None:
    """Print JSON; a number that is not one would be a fault of ours, and is an error."""
    click.echo(json.dumps(value, ensure_ascii=False, indent=2, allow_nan=False))


def forecast_shape(on: date, rows: Iterable[AnimalForecast]) -> dict[str, Any]:
    """Return the shape that `forecast --json` promises, and nothing beside it."""
    return {"on": on.isoformat(), "animals": [_animal(row) for row in rows]}


def _animal(row: AnimalForecast) -> dict[str, Any]:
    moult, size = row.next_moult, row.next_size
    return {
        "animal": row.animal,
        "taxon": row.taxon,
        "last_moult": plain(row.last_moult),
        "days_since": row.days_since,
        "last_look": plain(row.last_look),
        "may_have_moulted_unseen": plain(row.may_have_moulted_unseen),
        "next_moult": None
        if moult is None
        else {
            "quantiles_days": plain(moult.quantiles_days),
            "within_days": plain(moult.within_days),
            "n_animals": moult.n_animals,
            "n_intervals": moult.n_intervals,
            "method": moult.method,
            "reasons": list(moult.reasons),
        },
        "next_size": None
        if size is None
        else {"kind": size.kind, "unit": size.unit, "quantiles": plain(size.quantiles)},
        "mature": plain(row.mature),
    }
