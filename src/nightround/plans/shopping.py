"""What to buy for a plan of homes: how many of what, by when, at what cost; an unknown price is in no sum."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from itertools import groupby

from nightround.plans.rehousing_courses import Purchase
from nightround.plans.rehousing_ways import Choice, HomeKind
from nightround.plans.rehousing_words import PREPARE_AHEAD_DAYS
from nightround.reports.homes import ToBuy


@dataclass(frozen=True)
class Shopping:
    """Homes to buy, sums by currency, and how many are in no sum."""

    to_buy: tuple[ToBuy, ...]
    costs: tuple[tuple[str, str], ...]
    unpriced: int


def shopping(on: date, choice: Choice, purchases: Sequence[Purchase], days: Sequence[date]) -> Shopping:
    """Put purchases together by kind and day."""
    ordered = sorted(purchases, key=lambda each: (each.period, each.kind))
    bought, sums, unpriced = [], dict[str, Decimal](), 0
    for (period, at), group in groupby(ordered, key=lambda each: (each.period, each.kind)):
        kind, mine = choice.kinds[at], list(group)
        price = kind.price
        currency = kind.supply.body.currency.strip() if kind.supply is not None else ""
        if price is None:
            unpriced += len(mine)
        else:
            sums[currency] = sums.get(currency, Decimal(0)) + price * len(mine)
        checks = tuple(dict.fromkeys(check for each in mine for check in each.checks))
        bought.append(_to_buy(on, kind, len(mine), days[period], price, currency, checks))
    told = tuple((currency, f"{total:.2f}") for currency, total in sorted(sums.items()))
    return Shopping(tuple(bought), told, unpriced)


def _to_buy(
    on: date,
    kind: HomeKind,
    number: int,
    needed: date,
    price: Decimal | None,
    currency: str,
    checks: tuple[str, ...],
) -> ToBuy:
    lead = kind.supply.body.lead_days if kind.supply is not None else None
    order_by = None if lead is None else max(needed - timedelta(days=lead + PREPARE_AHEAD_DAYS), on)
    cost = "" if price is None else f"{price * number:.2f}"
    seller = kind.supply.body.from_whom if kind.supply is not None else ""
    return ToBuy(kind.words, seller, number, needed, order_by, cost, currency, checks)
