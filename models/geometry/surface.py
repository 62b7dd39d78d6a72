"""Rotor with magnets on its surface: dimensions and regions of one pole."""

from collections.abc import Mapping
from math import cos, pi, sin

from models.errors import InfeasibleDesignError
from models.geometry.section import Outline, Point, Region, arc_bulge
from models.machine import Machine, ParameterValue, rotor_as
from models.materials.sleeve import sleeve
from models.surface_rotor import SurfaceRotor

LEAST_YOKE = 0.06
"""Least iron between shaft and magnets, over rotor radius."""
LEAST_SLEEVE = 0.3e-3
"""Thinnest sleeve that can be made and fitted [m] (common practice, no source)."""
LEAST_EDGE = 0.3e-3
"""Least width between neighbouring magnets at their base [m]."""
LEAST_STEP = 0.02
"""Steps of the iron between the magnets below this share of the magnet are drawn as none, and
gaps below it up to the magnet's face as flush."""


def build_surface_rotor(
    parameters: Mapping[str, ParameterValue], *, outer_radius: float, pole_pairs: int
) -> SurfaceRotor:
    """Resolve a surface-magnet rotor from its ratios.

    Parameters
    ----------
    parameters : mapping
        Parameter table (SI).
    outer_radius : float
        Outside of sleeve or magnets [m].
    pole_pairs : int
        Pole pairs.

    Returns
    -------
    SurfaceRotor

    Raises
    ------
    InfeasibleDesignError
        `sleeve_too_thin`, `rotor_yoke_too_thin` or `magnets_too_close`.
    """
    thickness = float(parameters["magnet_thickness"])
    cover = float(parameters["sleeve_thickness"])
    shaft = float(parameters["shaft_ratio"]) * outer_radius
    sleeve(str(parameters["sleeve_material"]))  # an unknown grade is refused here
    if 0.0 < cover < LEAST_SLEEVE:
        raise InfeasibleDesignError(
            "sleeve_too_thin",
            f"the sleeve would be {cover * 1e3:.2f} mm thick, at least {LEAST_SLEEVE * 1e3:.1f} mm "
            "is needed; raise sleeve_thickness, or set it to 0 for glued magnets",
        )
    face = outer_radius - cover
    base = face - thickness
    yoke = base - shaft
    if yoke < LEAST_YOKE * outer_radius:
        raise InfeasibleDesignError(
            "rotor_yoke_too_thin",
            f"{yoke * 1e3:.2f} mm of iron between shaft and magnets, at least "
            f"{LEAST_YOKE * outer_radius * 1e3:.2f} mm is needed; lower shaft_ratio, "
            "magnet_thickness or sleeve_thickness",
        )
    half_pole = pi / (2 * pole_pairs)
    arc = float(parameters["magnet_arc_ratio"]) * half_pole
    if 2.0 * (half_pole - arc) * base < LEAST_EDGE:
        raise InfeasibleDesignError(
            "magnets_too_close",
            f"{2e3 * (half_pole - arc) * base:.2f} mm between neighbouring magnets, at least "
            f"{LEAST_EDGE * 1e3:.1f} mm is needed; lower magnet_arc_ratio or the number of poles",
        )
    inset = float(parameters["inset_ratio"])
    if inset < LEAST_STEP:
        inset = 0.0
    elif inset > 1.0 - LEAST_STEP:
        inset = 1.0
    return SurfaceRotor(
        outer_radius=outer_radius,
        magnet_radius=face,
        base_radius=base,
        core_radius=base + inset * thickness,
        shaft_radius=shaft,
        arc_half_angle=arc,
        is_radial=parameters["magnetisation"] == "radial",
        sleeve_thickness=cover,
        sleeve_material=str(parameters["sleeve_material"]),
        sleeve_prestress=float(parameters["sleeve_prestress"]),
        magnet_axial_segments=int(parameters["magnet_axial_segments"]),
        magnet_width_segments=int(parameters["magnet_width_segments"]),
    )


def surface_regions(machine: Machine) -> list[Region]:
    """Return the regions of one pole: core, shaft, magnet, air between magnets, sleeve.

    Magnet pieces are not drawn apart: the glue between them is too thin to matter to the field.
    """
    r = rotor_as(machine, SurfaceRotor)
    half, edge = pi / (2 * machine.pole_pairs), r.arc_half_angle
    core: list[tuple[Point, float]] = [
        (_at(r.shaft_radius, -half), 0.0),
        (_at(r.core_radius, -half), arc_bulge(half - edge)),
    ]
    if r.core_radius > r.base_radius:
        core += [
            (_at(r.core_radius, -edge), 0.0),
            (_at(r.base_radius, -edge), arc_bulge(2.0 * edge)),
            (_at(r.base_radius, edge), 0.0),
        ]
    else:
        core += [(_at(r.base_radius, -edge), arc_bulge(2.0 * edge))]
    core += [
        (_at(r.core_radius, edge), arc_bulge(half - edge)),
        (_at(r.core_radius, half), 0.0),
        (_at(r.shaft_radius, half), -arc_bulge(2.0 * half)),
    ]
    regions = [
        Region(
            "rotor_core",
            "rotor_core",
            machine.lamination.name,
            Outline(tuple(p for p, _ in core), tuple(b for _, b in core)),
        ),
        Region(
            "shaft",
            "shaft",
            "shaft",
            Outline(((0.0, 0.0), core[0][0], core[-1][0]), (0.0, arc_bulge(2.0 * half), 0.0)),
        ),
        Region(
            "magnet",
            "magnet",
            machine.magnet.name,
            _ring_sector(r.base_radius, r.magnet_radius, -edge, edge),
            magnetisation=(1.0, 0.0),
            magnetisation_order=1.0 if r.is_radial else 0.0,
        ),
    ]
    if r.core_radius < r.magnet_radius:
        regions += [
            Region(name, "barrier", "air", _ring_sector(r.core_radius, r.magnet_radius, low, high))
            for name, low, high in (("between_low", -half, -edge), ("between_high", edge, half))
        ]
    if r.sleeve_thickness > 0.0:
        regions.append(
            Region(
                "sleeve",
                "sleeve",
                r.sleeve_material,
                _ring_sector(r.magnet_radius, r.outer_radius, -half, half),
            )
        )
    return regions


def _at(radius: float, angle: float) -> Point:
    return (radius * cos(angle), radius * sin(angle))


def _ring_sector(inner: float, outer: float, low: float, high: float) -> Outline:
    bulge = arc_bulge(high - low)
    return Outline(
        (_at(inner, low), _at(outer, low), _at(outer, high), _at(inner, high)),
        (0.0, bulge, 0.0, -bulge),
    )
