"""Prices as they are printed."""

from __future__ import annotations

from decimal import Decimal

SYMBOLS = {"GBP": "£", "EUR": "€", "USD": "$", "AUD": "A$", "NZD": "NZ$", "CAD": "C$"}
"""Signs in common use for codes of ISO 4217; another currency is printed by its code."""


def show_money(amount: Decimal, currency: str) -> str:
    """`amount` with thousands apart; pence only where there are any."""
    places = 0 if amount == amount.to_integral_value() else 2
    number = f"{amount:,.{places}f}"
    sign = SYMBOLS.get(currency)
    return f"{sign}{number}" if sign else f"{number} {currency}".strip()
