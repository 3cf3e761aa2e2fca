"""What is used up, in words and amounts."""

from __future__ import annotations

from django import template
from django.utils.translation import gettext as _

from lapwright.app import lot_traces
from lapwright.app.lot_traces import LotUsed
from lapwright.app.supplies import ItemStock
from lapwright.model.supply import Measure
from lapwright.process.stock import StockOutlook
from lapwright.web.supply_forms import amount_text
from lapwright.web.words import item_name

register = template.Library()
DAYS = 30.0
FAR = 3.0 * 365.0  # days
MOST_WAFERS, MOST_RUNS = 200, 400  # of a plate, on its page, and the runs that are looked at for them


@register.filter
def amount(value: float, measure: Measure) -> str:
    """An amount with its unit; of what is counted, no more than tenths."""
    return amount_text(round(value, 1) if measure == "count" else value, measure)


@register.filter
def item_word(item: str) -> str:
    """An item by its name in the library, else as it was named."""
    return item_name(item)


@register.filter
def percent_of(left: float, came: float) -> str:
    """What is left, of what came, for the length of a bar."""
    return f"{100.0 * min(1.0, left / came):.1f}"


@register.filter
def is_far(stock: ItemStock) -> bool:
    """Whether it lasts so long that a day on which to order it would tell nothing."""
    return stock.outlook is not None and stock.outlook.lasts is not None and stock.outlook.lasts > FAR


@register.filter
def month_use(outlook: StockOutlook) -> float:
    """What thirty days use."""
    return DAYS * outlook.use


@register.simple_tag
def lots_used(wafer_id: str) -> tuple[LotUsed, ...]:
    """What went into a wafer; what several runs used alike stands once, at the first."""
    found: dict[tuple[str, str, str | None], LotUsed] = {}
    for one in lot_traces.lots_of_wafer(wafer_id):
        found.setdefault((one.kind, one.name, one.station_id), one)
    return tuple(found.values())


@register.simple_tag
def plate_wafers(plate_id: str) -> tuple[tuple[str, str], ...]:
    """Order and name of the wafers that a plate worked last."""
    return lot_traces.wafers_on_plate(plate_id, newest=MOST_RUNS)[-MOST_WAFERS:]


@register.filter
def used_word(one: LotUsed) -> str:
    """What a lot or piece is, in words."""
    if one.item:
        return item_name(one.item)
    return _("plate") if one.kind == "plate" else _("pad or film")
