"""Bill of materials: what purchasing must buy for one machine, with dated prices."""

from collections.abc import Mapping
from dataclasses import dataclass

from models.cost import price, price_rows, sensitivity
from models.performance.summary import Performance
from optim.export.context import PackContext
from optim.export.families import NOTES
from optim.export.table import Column, Table, column

TITLES = {
    "conductor": "Winding conductor", "sheet": "Electrical sheet", "sheet_process": "Stamping",
    "magnet": "Magnets", "magnet_process": "Magnet pieces", "insulation": "Liner and resin",
    "shaft": "Shaft in the stack",
    "sleeve": "Retaining sleeve", "winding_process": "Winding", "assembly": "Assembly",
    "housing": "Frame", "cage": "Cage bars and rings", "cage_process": "Making the cage",
}  # fmt: skip


@dataclass(frozen=True)
class BillLine:
    """One line: item, what it is, quantity with unit, cost [EUR] of the whole machine."""

    item: str
    description: str
    quantity: float
    unit: str
    cost: float


def bill(
    performance: Performance, metrics: Mapping[str, float], context: PackContext
) -> tuple[BillLine, ...]:
    """Return the lines of the bill of materials; no line of magnets for a rotor without.

    Parameters
    ----------
    performance : Performance
        The design.
    metrics : mapping
        Its metrics (SI).
    context : PackContext
        Price list.
    """
    machine = performance.machine
    costs = price(metrics, machine.parameters, context.prices).items
    quantities = _quantities(performance, metrics)
    return tuple(
        BillLine(item, *quantities.get(item, (TITLES.get(item, item), 1.0, "machine")), cost)
        for item, cost in costs.items()
        if metrics["magnet_mass"] > 0.0 or not item.startswith("magnet")
    )


def _quantities(
    performance: Performance, metrics: Mapping[str, float]
) -> dict[str, tuple[str, float, str]]:
    machine = performance.machine
    winding, sheet = machine.winding, machine.lamination
    conductors = winding.slots * winding.conductors_per_slot
    length = conductors * (machine.stack_length + winding.end_turn_length)
    if winding.is_rectangular:
        wire = f"{1e3 * winding.conductor_width:.2f} x {1e3 * winding.conductor_height:.2f} mm bare"
    else:
        wire = f"{winding.strands} x {1e3 * winding.conductor_width:.2f} mm diameter bare"
    block = NOTES[machine.family].block(machine)
    scrap = (
        1.0
        - (metrics["stator_sheet_mass"] + metrics["rotor_sheet_mass"])
        / (metrics["purchased_sheet_mass"])
    )
    strip = metrics["purchased_sheet_mass"]
    width = 2e3 * machine.stator.outer_radius
    heavy = 1e3 * metrics["heavy_rare_earth_mass"]
    return {
        "conductor": (f"{machine.conductor.name}, {wire}, {length:.1f} m of conductor",
                      metrics["conductor_mass"], "kg"),
        "sheet": (f"{sheet.name}, {1e3 * sheet.thickness:.2f} mm, blanks of {width:.1f} mm, "
                  f"{100.0 * scrap:.0f} % scrap", strip, "kg"),
        "sheet_process": ("stamping, stacking, joining", strip, "kg"),
        "magnet": (f"{machine.magnet.name}, {heavy:.0f} g heavy rare earth, blocks for "
                   f"{metrics['magnet_mass']:.3f} kg net",
                   metrics["magnet_block_mass"], "kg"),
        "magnet_process": (f"width x thickness x length {block}",
                           metrics["magnet_pieces"], "pieces"),
        "insulation": (f"slot liner, {metrics['resin_mass']:.2f} kg resin",
                       metrics["insulation_area"], "m^2"),
        "shaft": ("steel inside the stack", metrics["shaft_mass"], "kg"),
        "housing": ("aluminium, duct and end shields", metrics["housing_mass"], "kg"),
        "winding_process": (
            f"{winding.slots} slots, {winding.conductors_per_slot} conductors each",
            float(conductors), "conductors"),
        "sleeve": (f"{machine.parameters.get('sleeve_material', '')} over the magnets",
                   metrics.get("sleeve_mass", 0.0), "kg"),
        "assembly": ("stator and rotor", 1.0, "machine"),
        **_cage_quantities(performance, metrics),
    }  # fmt: skip


def _cage_quantities(
    performance: Performance, metrics: Mapping[str, float]
) -> dict[str, tuple[str, float, str]]:
    if "cage_mass" not in metrics:
        return {}
    values, mass = performance.machine.parameters, metrics["cage_mass"]
    return {
        "cage": (f"{values['cage_material']}, {values['bars']} bars", mass, "kg"),
        "cage_process": ("casting or brazing, turning", mass, "kg"),
    }


def bill_table(
    performance: Performance, metrics: Mapping[str, float], context: PackContext
) -> Table:
    """Return the bill of materials as a table."""
    lines = bill(performance, metrics, context)
    shares = sensitivity(metrics, performance.machine.parameters, context.prices)
    total = sum(line.cost for line in lines)
    strongest = sorted(shares.items(), key=lambda entry: -entry[1])[:6]
    return Table(
        name="bill_of_materials",
        title="Active parts and frame of one machine; bearings, sensor, end plates are not in it",
        columns=(
            Column("item", "-", tuple(TITLES.get(line.item, line.item) for line in lines)),
            Column("description", "-", tuple(line.description for line in lines)),
            column("quantity", "unit beside", [line.quantity for line in lines]),
            Column("unit", "-", tuple(line.unit for line in lines)),
            column("cost", "EUR", [line.cost for line in lines], "whole machine, without tax"),
        ),
        notes=(
            f"total {total:.2f} EUR at prices of {context.price_date}",
            "a price 10 % up raises the cost by: "
            + ", ".join(f"{key} {10.0 * share:.2f} %" for key, share in strongest if share > 0.0),
        ),
    )


def sensitivity_table(
    performance: Performance, metrics: Mapping[str, float], context: PackContext
) -> Table:
    """Return what each price weighs in the cost, the heaviest first."""
    shares = sensitivity(metrics, performance.machine.parameters, context.prices)
    total = price(metrics, performance.machine.parameters, context.prices).total
    order = sorted(shares, key=lambda key: -abs(shares[key]))
    rows = price_rows()
    return Table(
        name="cost_sensitivity",
        title="What each price weighs in the cost of one machine",
        columns=(
            Column("price", "-", tuple(order)),
            column("value", "EUR per unit", [context.prices[key] for key in order]),
            Column("unit", "-", tuple(rows[key].unit for key in order)),
            Column("date", "-", tuple(rows[key].date for key in order), "of the default list"),
            column("share", "%", [100.0 * shares[key] for key in order], "of the cost"),
            column("rise", "EUR", [0.1 * total * shares[key] for key in order],
                   "of the cost if this price goes up by 10 %"),
        ),
        notes=("cost is linear in every price, so shares hold for any change",),
    )  # fmt: skip
