"""Every picture of one design, its data solved once and drawn in any size."""

from collections.abc import Callable
from dataclasses import dataclass

from matplotlib.figure import Figure

from models.control.faults import open_circuit_flux
from models.performance.summary import Performance
from optim.export.context import PackContext
from optim.export.plots.back_emf import BackEmf, back_emf_data, draw_back_emf
from optim.export.plots.efficiency import EfficiencyPicture, draw_efficiency, efficiency_data
from optim.export.plots.flux_picture import (
    FluxPicture,
    draw_flux_picture,
    flux_picture_data,
)
from optim.export.plots.loss_split import LossCase, draw_loss_split, loss_split_data
from optim.export.plots.section import draw_section
from optim.export.plots.torque_angle import TorqueAngle, draw_torque_angle, torque_angle_data
from optim.export.plots.torque_speed import TorqueSpeed, draw_torque_speed, torque_speed_data
from optim.export.section_view import SectionView, section_view


@dataclass(frozen=True, eq=False)
class Pictures:
    """Data of every picture of a design; what it has not is None.

    Flux only where the model has a field, back-EMF only where magnets make one.
    """

    section: SectionView
    torque_speed: TorqueSpeed
    torque_angle: TorqueAngle
    back_emf: BackEmf | None
    efficiency: EfficiencyPicture
    loss_split: tuple[LossCase, ...]
    flux: FluxPicture | None = None


def picture_data(performance: Performance, context: PackContext) -> Pictures:
    """Return the data of every picture."""
    # the picture's field has no bar currents: it would show a cage machine as it never is
    is_cage = performance.drive.table.cage_loss is not None
    has_flux = performance.model.name == "field" and not is_cage
    return Pictures(
        section=section_view(performance),
        torque_speed=torque_speed_data(performance),
        torque_angle=torque_angle_data(performance),
        back_emf=back_emf_data(performance, context)
        if open_circuit_flux(performance.drive.table) > 0.0
        else None,
        efficiency=efficiency_data(performance),
        loss_split=loss_split_data(performance),
        flux=flux_picture_data(performance) if has_flux else None,
    )


def drawings(pictures: Pictures, *, footer: str) -> dict[str, Callable[[], Figure]]:
    """Return what draws each picture in its stand-alone size, by file name without ending."""
    flux, emf = pictures.flux, pictures.back_emf
    of_some: dict[str, Callable[[], Figure]] = {}
    if emf is not None:
        of_some["back_emf"] = lambda: draw_back_emf(emf, footer=footer)
    if flux is not None:
        of_some["flux_density"] = lambda: draw_flux_picture(flux, footer=footer)
    return {
        "section": lambda: draw_section(pictures.section, footer=footer),
        "torque_speed": lambda: draw_torque_speed(pictures.torque_speed, footer=footer),
        "torque_angle": lambda: draw_torque_angle(pictures.torque_angle, footer=footer),
        "efficiency": lambda: draw_efficiency(pictures.efficiency, footer=footer),
        "loss_split": lambda: draw_loss_split(pictures.loss_split, footer=footer),
        **of_some,
    }
