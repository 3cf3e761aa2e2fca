"""The certificate in words: facts in, blocks of one language out. Every number on it is taken from the facts."""

from __future__ import annotations

from typing import cast

from lapwright.model.order import Quantity
from lapwright.model.wafer import Wedge
from lapwright.reports.blocks import Block, Heading, Pairs, Paper, Pictures, Table, Text
from lapwright.reports.certificate_budgets import budget_blocks
from lapwright.reports.certificate_data import CertificateData, CertifiedSet, CertifiedWafer
from lapwright.reports.certificate_facts import definitions, map_scales, unit_of
from lapwright.reports.certificate_numbers import Fact, Facts, shown
from lapwright.reports.drawing import Lettering, Scale, wafer_map
from lapwright.reports.words import Words
from lapwright.reports.words.sentences import told as sentence

_SYMBOLS = {"um": "µm", "nm": "nm", "mm": "mm", "arcsec": "″", "deg": "°", "c": "°C"}


def certificate_paper(data: CertificateData, facts: Facts, words: Words, *, font: str) -> Paper:
    """The whole certificate as blocks; `font` letters its drawings.

    What is signed stands together on the first page; how it was found, and the words, after the last data sheet.
    """
    blocks: list[Block] = [Heading(text=words["title"], level=1)]
    if data.simulated:
        blocks.append(Text(text=words["simulated"], tone="notice"))
    blocks.append(Pairs(rows=_identification(facts, words)))
    blocks.append(Heading(text=words["results"]))
    blocks.append(_results(facts, words))
    meaning = definitions(data, words)
    blocks += [Text(text=meaning["decision_rule"], tone="small"), Text(text=meaning["uncertainty"], tone="small")]
    blocks += [Heading(text=words["gauges"]), _gauges(facts, words)]
    if data.remarks:
        blocks.append(Heading(text=words["remarks"]))
        blocks += [Text(text=sentence(remark, words["language"])) for remark in data.remarks]
    blocks += [Heading(text=words["signatures"]), _signatures(facts, words)]
    for wafer, told in zip(data.wafers, _listed(facts["wafers"]), strict=True):
        blocks += _data_sheet(data, wafer, told, words, font)
    blocks += [Heading(text=words["method"]), Text(text=sentence(data.method, words["language"]))]
    blocks.append(Heading(text=words["meanings"]))
    blocks += [
        Text(text=text, tone="small") for key, text in meaning.items() if key not in ("decision_rule", "uncertainty")
    ]
    version = words["data_format"].format(format=facts["format"], version=facts["format_version"])
    blocks.append(Text(text=f"{words['software']} Lapwright {data.software_version}. {version}", tone="small"))
    footer = f"{words['document_number']} {data.document_number} · {words['revision']} {data.revision}"
    return Paper(
        language=words["language"],
        title=f"{words['title']} {data.document_number}",
        blocks=tuple(blocks),
        footer=footer,
    )


def with_unit(facts: Facts, field: str, words: Words) -> str:
    """A fact as the page writes it, with the unit that its name ends in."""
    value = facts.get(field)
    if value is None:
        return words["unknown"]
    symbol = _SYMBOLS.get(field.rsplit("_", 1)[-1], "")
    space = "" if symbol in ("°", "″", "") else "\u00a0"
    return f"{shown(value, words)}{space}{symbol}"


# ----------------------------------------------------------------------------------------------------------------------


def _listed(fact: Fact) -> list[Facts]:
    return cast("list[Facts]", fact)


def _text(fact: Fact, words: Words) -> str:
    return words["unknown"] if fact is None else str(fact)


def _identification(facts: Facts, words: Words) -> tuple[tuple[str, str], ...]:
    names: tuple[str, ...] = (
        "document_number",
        "revision",
        "issued",
        "laboratory",
        "customer",
        "customer_reference",
        "order_id",
    )
    names += ("material", "orientation")
    rows = [(words[name], str(facts[name])) for name in names if facts[name] is not None]
    outline = cast("Facts", facts["outline"])
    rows.append((words["outline"], _outline(outline, words)))
    if outline["shape"] == "round":
        length = shown(outline.get("flat_length_mm"), words)
        rows.append((words["mark"], words[f"mark_{outline['mark']}"].format(length=length)))
    rows.append((words["target_thickness"], with_unit(facts, "target_thickness_um", words)))
    rows.append((words["edge_exclusion"], with_unit(facts, "edge_exclusion_mm", words)))
    return tuple(rows)


def _outline(outline: Facts, words: Words) -> str:
    if outline["shape"] == "round":
        return f"⌀ {with_unit(outline, 'diameter_mm', words)}"
    if outline["shape"] == "rectangle":
        return f"{shown(outline['width_mm'], words)} × {with_unit(outline, 'height_mm', words)}"
    corners = "; ".join(f"({shown(c['x_mm'], words)} | {shown(c['y_mm'], words)})" for c in _listed(outline["corners"]))
    return f"{words['polygon']} {corners}"


def _results(facts: Facts, words: Words) -> Table:
    """One row a limit, and for each wafer one that says how it stands as a whole."""
    rows: list[tuple[str, ...]] = []
    for wafer in _listed(facts["wafers"]):
        rows += [_limit_row(str(wafer["wafer_id"]), limit, words) for limit in _listed(wafer["limits"])]
        whole = words[str(wafer["outcome"])]
        rows.append((str(wafer["wafer_id"]), words["whole_wafer"], "", "", "", "", "", "", whole, ""))
    head = ("wafer", "limit", "lower", "upper", "measured", "expanded_uncertainty", "coverage_factor", "unit")
    return Table(
        head=tuple(words[name] for name in (*head, "outcome", "gauge")),
        rows=tuple(rows),
        numbers=frozenset(range(2, 7)),
    )


def _limit_row(wafer: str, limit: Facts, words: Words) -> tuple[str, ...]:
    quantity = cast("Quantity", limit["quantity"])
    unit = unit_of(quantity)
    bounds = [shown(limit[f"{side}_{unit}"], words) if limit[f"{side}_{unit}"] is not None else "–"
              for side in ("lower", "upper")]  # fmt: skip
    measured = [limit[f"measured_{unit}"], limit[f"expanded_uncertainty_{unit}"], limit["coverage_factor"]]
    return (
        wafer,
        words[f"quantity_{quantity}"],
        *bounds,
        *(shown(value, words) for value in measured),
        _SYMBOLS[unit],
        words[str(limit["outcome"])],
        str(limit["gauge_id"] or ("" if limit[f"measured_{unit}"] is None else words["gauge_not_named"])),
    )


def _gauges(facts: Facts, words: Words) -> Table:
    rows = []
    for gauge in _listed(facts["gauges"]):
        calibration = cast("Facts | None", gauge["calibration"])
        kind = words["contact"] if gauge["contact"] else words["without_contact"]
        worth = (with_unit(gauge, "limit_um", words), with_unit(gauge, "resolution_um", words))
        if calibration is None:
            told = (words["no_calibration"], "", "", "", "")
        else:
            failed = "" if calibration["passed"] else f" ({words['not_passed']})"
            told = (
                f"{calibration['certificate']}{failed}",
                str(calibration["done"]),
                str(calibration["due"]),
                with_unit(calibration, "deviation_um", words),
                with_unit(calibration, "expanded_uncertainty_um", words),
            )
        rows.append((str(gauge["gauge_id"]), str(gauge["name"]), kind, *worth, *told))
    head = ("gauge", "gauge_name", "contact_kind", "gauge_limit", "resolution", "calibration", "calibrated", "due")
    return Table(
        head=tuple(words[name] for name in (*head, "deviation", "expanded_uncertainty")),
        rows=tuple(rows),
        numbers=frozenset({3, 4, 8, 9}),
        stretch=1,
    )


def _signatures(facts: Facts, words: Words) -> Table:
    rows = [
        (sentence(str(line["role"]), words["language"]), str(line["name"] or ""), str(line["signed"] or ""), "")
        for line in _listed(facts["signatures"])
    ]
    head = tuple(words[name] for name in ("role", "name", "signed", "signature"))
    return Table(head=head, rows=tuple(rows), ruled=True)


def _data_sheet(data: CertificateData, wafer: CertifiedWafer, told: Facts, words: Words, font: str) -> list[Block]:
    blocks: list[Block] = [Heading(text=words["data_sheet"].format(wafer=wafer.wafer_id), new_page=True)]
    blocks += [Text(text=sentence(remark, words["language"])) for remark in wafer.remarks]
    pictures = _maps(data, wafer, told, words, font)
    if pictures is not None:
        blocks.append(pictures)
    moments = [moment for moment in ("before", "after") if told[moment] is not None]
    if moments:
        blocks += [Heading(text=words["figures"], level=3), _figures(told, moments, words)]
        blocks += [block for moment in moments for block in budget_blocks(cast("Facts", told[moment]), words)]
        blocks += [Heading(text=words["how_measured"], level=3), _how_measured(told, moments, words)]
    if told["bond"] is not None:
        blocks += [Heading(text=words["bond"], level=3), Pairs(rows=_bond(cast("Facts", told["bond"]), words))]
    if moments:
        blocks += [Heading(text=words["sites"], level=3), _sites(told, moments, words)]
    return blocks


def _maps(data: CertificateData, wafer: CertifiedWafer, told: Facts, words: Words, font: str) -> Pictures | None:
    lettering = drawing_letters(words, font)
    svgs, alts = [], []
    for moment, taken, scale in zip(("before", "after"), (wafer.before, wafer.after), map_scales(wafer), strict=True):
        if taken is None:
            continue
        heading = words[f"map_{moment}"].format(wafer=wafer.wafer_id)
        notes = _map_notes(cast("Facts", told[moment]), words)
        svgs.append(_map(data, taken, scale, heading=heading, notes=notes, lettering=lettering))
        alts.append(". ".join([heading, *notes]))
    if not svgs:
        return None
    return Pictures(svgs=tuple(svgs), alts=tuple(alts), note=words["same_steps"] if len(svgs) > 1 else "")


def _map(
    data: CertificateData,
    taken: CertifiedSet,
    scale: Scale | None,
    *,
    heading: str,
    notes: list[str],
    lettering: Lettering,
) -> str:
    wedge = Wedge(amount=taken.figures.wedge.value, azimuth=taken.figures.wedge_azimuth)
    return wafer_map(
        taken.map,
        data.outline,
        heading=heading,
        scale=scale,
        wedge=wedge,
        edge_exclusion=data.edge_exclusion,
        notes=notes,
        lettering=lettering,
    )


def _map_notes(told: Facts, words: Words) -> list[str]:
    notes = [
        words["worked_face"],
        f"{words['wedge_short']} {with_unit(told, 'wedge_um', words)} · {_where(told, words)}",
    ]
    if told["n_not_measured"]:
        notes.append(f"○ {words['not_measured']}: {told['n_not_measured']}")
    return notes


def _where(told: Facts, words: Words) -> str:
    """The direction of a wedge as clock position and degrees, or that it has none."""
    if told["wedge_azimuth_deg"] is None:
        return words["no_direction"]
    return f"{words['thickest']} {_direction(told, words)}"


def _direction(told: Facts, words: Words) -> str:
    if told["wedge_azimuth_deg"] is None:
        return words["no_direction"]
    clock = words["o_clock"].format(hour=told["wedge_clock_hour"])
    return f"{clock} ({with_unit(told, 'wedge_azimuth_deg', words)})"


def drawing_letters(words: Words, font: str) -> Lettering:
    """The lettering of drawings in a language."""
    return Lettering(
        decimal=words["decimal"],
        font=font,
        not_measured=words["not_measured"],
        thickest=words["thickest"],
        wedge=words["wedge_short"],
        no_direction=words["no_direction"],
        values_shown=words["values_shown"],
        only_between=words["only_between"],
        worked_face=words["worked_face"],
        site=words["site"],
    )


def _figures(told: Facts, moments: list[str], words: Words) -> Table:
    head = [words["quantity"]]
    for moment in moments:
        head += [words[moment], words["expanded_uncertainty"], words["coverage_factor"]]
    rows: list[tuple[str, ...]] = []
    for name, field in (
        ("mean", "mean_um"), ("centre", "centre_um"), ("min", "min_um"), ("max", "max_um"), ("ttv", "ttv_um"),
        ("ttv_noise_bias", "ttv_noise_bias_um"), ("ttv_corrected", "ttv_corrected_um"), ("wedge", "wedge_um"),
        ("wedge_arcsec", "wedge_arcsec"), ("dome", "dome_um"), ("residual_rms", "residual_rms_um"),
    ):  # fmt: skip
        cells = [_figure_cells(cast("Facts", told[moment]), name, field, words) for moment in moments]
        rows.append((words[name], *(cell for three in cells for cell in three)))
    where = [(_direction(cast("Facts", told[moment]), words), "", "") for moment in moments]
    rows.append((words["wedge_azimuth"], *(cell for three in where for cell in three)))
    return Table(head=tuple(head), rows=tuple(rows), numbers=frozenset(range(1, len(head))))


def _figure_cells(told: Facts, name: str, field: str, words: Words) -> tuple[str, str, str]:
    if f"{name}_coverage_factor" not in told:
        return with_unit(told, field, words), "", ""
    if told[field] is None:
        return words["unknown"], "", ""
    half = with_unit(told, f"{name}_expanded_uncertainty_um", words)
    return with_unit(told, field, words), half, shown(told[f"{name}_coverage_factor"], words)


def _how_measured(told: Facts, moments: list[str], words: Words) -> Table:
    def spoken(facts: Facts, name: str) -> str:
        value = facts[name]
        if isinstance(value, bool):
            return words["yes"] if value else words["no"]
        if name == "hold" and value is not None:
            return words[str(value)]
        return sentence(_text(value, words), words["language"]) if name == "pattern" else _text(value, words)

    sets = [cast("Facts", told[moment]) for moment in moments]
    names = ("taken", "set_id", "gauge_id", "operator", "pattern", "n_sites", "n_not_measured", "repeats", "hold")
    rows = [
        (words[{"gauge_id": "gauge"}.get(name, name)], *(spoken(facts, name) for facts in sets))
        for name in (*names, "soaked")
    ]
    rows += [
        (words[name.rsplit("_", 1)[0]], *(with_unit(facts, name, words) for facts in sets))
        for name in ("temperature_c", "zero_before_um", "zero_after_um")
    ]
    return Table(head=("", *(words[moment] for moment in moments)), rows=tuple(rows), spread=2)


def _bond(bond: Facts, words: Words) -> tuple[tuple[str, str], ...]:
    return (
        (words["carrier_id"], str(bond["carrier_id"])),
        (words["adhesive"], str(bond["adhesive"])),
        (words["bond_mean"], _with_half(bond, "mean", words)),
        (words["bond_range"], with_unit(bond, "range_um", words)),
        (words["bond_wedge"], _with_half(bond, "wedge", words)),
        (words["wedge_arcsec"], with_unit(bond, "wedge_arcsec", words)),
        (words["wedge_azimuth"], _direction(bond, words)),
    )


def _with_half(facts: Facts, name: str, words: Words) -> str:
    """A value with its expanded uncertainty and coverage factor on one line."""
    if facts[f"{name}_um"] is None:
        return words["unknown"]
    text = with_unit(facts, f"{name}_um", words)
    half, factor = facts[f"{name}_expanded_uncertainty_um"], facts[f"{name}_coverage_factor"]
    if half is None:
        return f"{text}, U {words['unknown']}"
    told = f"{text}, U = {with_unit(facts, f'{name}_expanded_uncertainty_um', words)}"
    return told if factor is None else f"{told}, k = {shown(factor, words)}"


def _sites(told: Facts, moments: list[str], words: Words) -> Table:
    def cell(site: Facts, moment: str) -> str:
        if f"{moment}_um" not in site:
            return words["not_in_pattern"]
        return words["not_measured"] if site[f"{moment}_um"] is None else shown(site[f"{moment}_um"], words)

    rows = tuple(
        (
            str(site["site"]),
            shown(site["x_mm"], words),
            shown(site["y_mm"], words),
            *(cell(site, moment) for moment in moments),
        )
        for site in _listed(told["sites"])
    )
    head = (words["site"], "x, mm", "y, mm", *(f"{words[moment]}, µm" for moment in moments))
    numbers = frozenset(range(1, len(head)))
    return Table(head=head, rows=rows, numbers=numbers, spread=2 if len(rows) > 12 else 1)
