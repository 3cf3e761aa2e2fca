"""`lapwright stack`: bow and stress of wafer, adhesive and carrier after cooling, now and once it is thin."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

import typer

from lapwright.cli import options
from lapwright.cli.answer import JsonOption, give

app = typer.Typer(add_completion=False)


@app.command()
def stack(  # noqa: PLR0913  one parameter for each option
    *,
    material: Annotated[str, typer.Option(help="Material of the wafer.")],
    thickness_um: Annotated[float, typer.Option(help="Thickness of the wafer as it is.")],
    diameter_mm: Annotated[float, typer.Option(help="Diameter of the wafer.")],
    target_um: Annotated[float | None, typer.Option(help="Thickness of the wafer once it is thin.")] = None,
    cut: Annotated[str, typer.Option(metavar="WORDS", help="Cut of the wafer, as an order writes it: 'X cut'.")] = "",
    carrier_material: Annotated[str, typer.Option(help="Material of the carrier.")] = "borosilicate",
    carrier_um: Annotated[float, typer.Option(help="Thickness of the carrier.")] = 6000.0,
    bond_um: Annotated[float, typer.Option(help="Thickness of the adhesive.")] = 5.0,
    sets_c: Annotated[float, typer.Option(help="Temperature at which the adhesive sets.")] = 80.0,
    use_c: Annotated[float, typer.Option(help="Temperature at which the stack is used.")] = 21.0,
    as_json: JsonOption = False,
) -> None:
    """Bow along both axes and stress of a cooled stack, an upper limit; whether wafer and carrier match."""
    from lapwright.app.bond_models import ZERO_CELSIUS, cut_named, stack_of
    from lapwright.formats.bond_results import stack_dict
    from lapwright.formats.json_line import warning_dict
    from lapwright.process.bonding_stack import StackDesign

    found = stack_of(
        StackDesign(
            wafer=material,
            cut=cut_named(cut),
            wafer_thickness=options.metres(thickness_um, "µm"),
            diameter=options.metres(diameter_mm, "mm"),
            carrier=carrier_material,
            carrier_thickness=options.metres(carrier_um, "µm"),
            bond=options.metres(bond_um, "µm"),
            set_temperature=sets_c + ZERO_CELSIUS,
            use_temperature=use_c + ZERO_CELSIUS,
        ),
        target=options.metres_or_none(target_um, "µm"),
    )
    warnings = [warning_dict(*one) for one in found.pair.warnings]
    give(stack_dict(found.now, found.target, found.pair), as_json=as_json, show=_show, warnings=warnings)


# ----------------------------------------------------------------------------------------------------------------------


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    rows = [
        (
            shown(one["wafer_thickness_um"], 0),
            shown(one["bow_x_um"], 1, sign=True),
            shown(one["bow_y_um"], 1, sign=True),
            shown(one["mean_stress_x_mpa"], 1, sign=True),
            shown(one["mean_stress_y_mpa"], 1, sign=True),
        )
        for one in (result["now"], result["target"])
        if one is not None
    ]
    headings = ("wafer, µm", "bow x, µm", "bow y, µm", "stress x, MPa", "stress y, MPa")
    print_table(headings, rows, numbers=(0, 1, 2, 3, 4))
    print_line("Bow above zero: domed. Upper limits: a soft wax relaxes most of it.")
