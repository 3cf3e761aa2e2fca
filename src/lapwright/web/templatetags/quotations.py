"""Sums of money and chances of a quotation, for templates."""

from __future__ import annotations

from django import template

from lapwright.web.sentences import decimal

register = template.Library()


@register.filter
def money(value: float | None, currency: str = "") -> str:
    """A sum with two decimals, a true minus, and its currency where there is one."""
    if value is None:
        return "–"
    text = decimal(f"{value:.2f}").replace("-", "\u2212")
    return f"{text}\u00a0{currency}" if currency else text


@register.filter
def change(value: float) -> str:
    """A difference of money with its sign."""
    return decimal(f"{value:+.2f}").replace("-", "\u2212")


@register.filter
def get(mapping: dict[str, object], key: str) -> object:
    """What a mapping holds under a key; None without."""
    return mapping.get(key)
