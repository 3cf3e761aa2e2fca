"""Order files: TOML in which every number carries its unit at the end of its key.

`read_order` names every missing definition and every other fault in one list. The form, with an example, is told in
docs/reference/order-file.md; why the unit is in the key is told in docs/decisions/0004-order-file.md.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

from lapwright.errors import OutOfValidRange
from lapwright.formats.faults import FaultList
from lapwright.formats.number_text import exact_text
from lapwright.formats.toml_fields import Table, read_toml
from lapwright.model.order import DecisionRule, Limit, Order, Quantity, RuleKind
from lapwright.model.readings import HoldState
from lapwright.model.wafer import Mark, Outline, Polygon, Rectangle, Round
from lapwright.units import find_unit

QUANTITIES = ("thickness", "ttv", "wedge", "flatness", "bow", "warp", "roughness_ra", "roughness_sq")


def read_order(path: Path) -> Order:
    """Read and check an order file.

    Raises `FileFormatError` when it is no TOML, `BadInput` with all faults.
    """
    return order_from_dict(read_toml(path), name=path.name)


def order_from_dict(content: dict[str, Any], *, name: str) -> Order:
    """The order that a parsed order file holds; `name` is how faults call the file."""
    faults = FaultList(name)
    top = Table(content, name="", faults=faults)
    piece, incoming, finished = top.table("piece"), top.table("incoming"), top.table("finished")
    judging = top.table("judging")
    fields = {
        "order_id": top.text("order"),
        "customer": top.text("customer"),
        "quantity": top.whole("quantity", least=1),
        "spares": top.whole("spares", least=0, default=0),
        "due": top.day("due"),
        "value_per_wafer": top.number("value_per_wafer"),
        "notes": top.text("notes", default=""),
        "material": piece.text("material"),
        "orientation": piece.text("orientation", default=""),
        "outline": _outline(piece),
        "start_thickness": incoming.quantity("thickness", "length", example="thickness_um"),
        "start_ttv": incoming.quantity("ttv", "length", example="ttv_um", needed=False),
        "start_damage": incoming.quantity("damage", "length", example="damage_um", needed=False) or 0.0,
        "target_thickness": finished.quantity("thickness", "length", example="thickness_um"),
        "limits": tuple(_limit(table) for table in top.tables("limit")),
        "edge_exclusion": judging.quantity("edge_exclusion", "length", example="edge_exclusion_mm"),
        "hold": cast("HoldState", judging.choice("hold", ("free", "clamped"))),
        "rule": _rule(judging),
    }
    for table in (top, piece, incoming, finished, judging):
        table.close()
    _check_together(fields, faults)
    faults.settle()
    return Order(**cast("Any", fields))


def order_text(order: Order) -> str:
    """An order file that `read_order` reads back to the same order."""
    rows = [
        f"order = {_quoted(order.order_id)}",
        f"customer = {_quoted(order.customer)}",
        f"quantity = {order.quantity}",
        f"spares = {order.spares}",
        *([f"due = {order.due.isoformat()}"] if order.due else []),
        *([f"value_per_wafer = {order.value_per_wafer!r}"] if order.value_per_wafer is not None else []),
        *([f"notes = {_quoted(order.notes)}"] if order.notes else []),
        "\n[piece]",
        f"material = {_quoted(order.material)}",
        *([f"orientation = {_quoted(order.orientation)}"] if order.orientation else []),
        *_outline_rows(order.outline),
        "\n[incoming]",
        f"thickness_um = {_um(order.start_thickness)}",
        *([f"ttv_um = {_um(order.start_ttv)}"] if order.start_ttv is not None else []),
        f"damage_um = {_um(order.start_damage)}",
        "\n[finished]",
        f"thickness_um = {_um(order.target_thickness)}",
        "\n[judging]",
        f"edge_exclusion_mm = {_mm(order.edge_exclusion)}",
        f"hold = {_quoted(order.hold)}",
        f"rule = {_quoted(order.rule.kind)}",
        f"false_accept_percent = {exact_text(order.rule.false_accept, _PERCENT)}",
        *([f"guard_factor = {order.rule.guard_factor!r}"] if order.rule.guard_factor is not None else []),
    ]
    for limit in order.limits:
        rows += ["\n[[limit]]", f"quantity = {_quoted(limit.quantity)}"]
        rows += [f"lower_um = {_um(limit.lower)}"] if limit.lower is not None else []
        rows += [f"upper_um = {_um(limit.upper)}"] if limit.upper is not None else []
    return "\n".join(rows) + "\n"


# ----------------------------------------------------------------------------------------------------------------------

_UM, _MM = find_unit("µm", "length"), find_unit("mm", "length")
_PERCENT = find_unit("%", "share")


def _outline(piece: Table) -> Outline | None:
    shape = piece.choice("shape", ("round", "rectangle", "polygon"))
    try:
        if shape == "round":
            return _round(piece)
        if shape == "rectangle":
            width = piece.quantity("width", "length", example="width_mm")
            height = piece.quantity("height", "length", example="height_mm")
            return None if width is None or height is None else Rectangle(width=width, height=height)
        if shape == "polygon":
            corners = piece.pairs("corners", example="corners_mm")
            return Polygon(corners=corners) if corners else None
    except OutOfValidRange as fault:
        piece.report(fault)
    return None


def _round(piece: Table) -> Round | None:
    diameter = piece.quantity("diameter", "length", example="diameter_mm")
    mark = cast("Mark | None", piece.choice("mark", ("flat", "notch", "none"), default="none"))
    flat = piece.quantity("flat_length", "length", example="flat_length_mm", needed=mark == "flat")
    if diameter is None or mark is None or (mark == "flat" and flat is None):
        return None
    return Round(diameter=diameter, mark=mark, flat_length=flat or 0.0)


def _limit(table: Table) -> Limit | None:
    quantity = cast("Quantity | None", table.choice("quantity", QUANTITIES))
    lower = table.quantity("lower", "length", example="lower_um", needed=False)
    upper = table.quantity("upper", "length", example="upper_um", needed=False)
    table.close()
    if quantity is None:
        return None
    try:
        return Limit(quantity=quantity, lower=lower, upper=upper)
    except OutOfValidRange as fault:
        table.report(fault)
        return None


def _rule(judging: Table) -> DecisionRule | None:
    kind = cast("RuleKind | None", judging.choice("rule", ("simple", "guarded")))
    share = judging.quantity("false_accept", "share", example="false_accept_percent", needed=False)
    factor = judging.number("guard_factor")
    if kind == "guarded" and share is None and factor is None:
        sentence = "judging.false_accept_percent is missing; a guard band needs it, or guard_factor."
        judging.faults.add(sentence, code="order.missing", field="judging.false_accept_percent")
        return None
    if kind is None:
        return None
    try:
        return DecisionRule(kind=kind, guard_factor=factor, **({} if share is None else {"false_accept": share}))
    except OutOfValidRange as fault:
        judging.report(fault)
        return None


def _check_together(fields: dict[str, Any], faults: FaultList) -> None:
    """Report what only shows when several fields are seen side by side."""
    limits = [limit for limit in fields["limits"] if limit is not None]
    names = [limit.quantity for limit in limits]
    for twice in sorted({name for name in names if names.count(name) > 1}):
        faults.add(f"{twice} has two limits; give its lower and upper in one.", code="order.twice", field="limit")
    if "thickness" not in names and not faults.total:
        faults.add("The thickness has no limit; add one with lower_um and upper_um.", code="order.missing",
                   field="limit")  # fmt: skip
    for name in ("start_thickness", "target_thickness"):
        value = fields[name]
        if value is not None and not value > 0.0:
            faults.add(f"The {name.replace('_', ' ')} is {value * 1e6:g} µm; expected more than zero.",
                       code="value.out_of_range", field=name)  # fmt: skip
    if fields["edge_exclusion"] is not None and fields["edge_exclusion"] < 0.0:
        faults.add("The edge exclusion is negative; expected zero or more.", code="value.out_of_range",
                   field="judging.edge_exclusion")  # fmt: skip


def _outline_rows(outline: Outline) -> list[str]:
    if isinstance(outline, Rectangle):
        return ['shape = "rectangle"', f"width_mm = {_mm(outline.width)}", f"height_mm = {_mm(outline.height)}"]
    if isinstance(outline, Polygon):
        corners = ", ".join(f"[{_mm(x)}, {_mm(y)}]" for x, y in outline.corners)
        return ['shape = "polygon"', f"corners_mm = [{corners}]"]
    rows = ['shape = "round"', f"diameter_mm = {_mm(outline.diameter)}", f"mark = {_quoted(outline.mark)}"]
    return [*rows, f"flat_length_mm = {_mm(outline.flat_length)}"] if outline.mark == "flat" else rows


def _um(value: float) -> str:
    return exact_text(value, _UM)


def _mm(value: float) -> str:
    return exact_text(value, _MM)


def _quoted(text: str) -> str:
    """A TOML basic string; JSON's escapes are a part of TOML's."""
    import json

    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
