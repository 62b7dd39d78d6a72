"""The thermal network as data: thirteen nodes from coolant to magnets.

Heat leaves through the water jacket, oil on the end winding and in the shaft (whichever the duty
has), and a little through the frame to ambient air. The air gap and the end space depend on
speed, all else is fixed. `models.thermal.network` makes it from a machine.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.losses.mechanical import MechanicalLoss
from models.thermal.conductances import end_space_coefficient, gap_nusselt, taylor_number
from models.thermal.fluids import air

Array = NDArray[np.float64]

NODES: tuple[str, ...] = (
    "coolant", "frame", "yoke", "teeth", "slot_winding", "hot_spot", "end_winding",
    "gap", "rotor_iron", "magnets", "shaft", "bearings", "end_air",
)  # fmt: skip
AT = {name: k for k, name in enumerate(NODES)}
"""Index of each node."""

AIR_TEMPERATURE = 90.0
"""Temperature at which air in the machine is taken [degC]; its conductivity changes 2 % in 10 K."""
AIR = air(AIR_TEMPERATURE)
"""Air in the machine."""
_AIR_VISCOSITY = float(AIR.kinematic_viscosity)
_AIR_CONDUCTIVITY = float(AIR.conductivity)
END_AIR_SPEED = 0.5
"""Air speed in the end space over rotor surface speed (common practice, no source)."""


@dataclass(frozen=True)
class Boundary:
    """Where heat leaves the machine.

    Attributes
    ----------
    name : str
        `jacket`, `ambient`, `spray` or `shaft`.
    node : int
        Index of the node it is tied to.
    temperature : float
        [degC].
    conductance : float
        [W/K].
    """

    name: str
    node: int
    temperature: float
    conductance: float


@dataclass(frozen=True, eq=False)
class ThermalNetwork:
    """Conductances, capacities and boundaries over `NODES` (n of them).

    Attributes
    ----------
    capacity : ndarray, shape (n,)
        Heat capacities [J/K].
    fixed : ndarray, shape (n, n)
        Conductance matrix without the branches that depend on speed [W/K]; symmetric, boundary
        conductances on the diagonal.
    speed_branches : ndarray, shape (3, n, n)
        Matrices of one W/K from gap to teeth and from gap to rotor iron, and of one W/(m^2 K) in
        the end space [m^2].
    source : ndarray, shape (n,)
        Heat that boundaries would bring into nodes at 0 degC [W].
    boundaries : tuple of Boundary
        Where heat leaves.
    gap_radius, gap_width, gap_area : float
        Mean radius [m], width [m] and area [m^2] of the air gap.
    gap_solids : tuple of 2 float
        Conductance of tooth and of rotor iron in series with the gap [W/K].
    rotor_radius : float
        [m].
    winding_split : ndarray, shape (n,)
        Share of the winding loss in each node (sum 1).
    tooth_share : float
        Teeth's share of stator iron mass.
    resistivity_slope : float
        Relative rise of winding resistance per kelvin, from 20 degC.
    """

    capacity: Array
    fixed: Array
    speed_branches: Array
    source: Array
    boundaries: tuple[Boundary, ...]
    gap_radius: float
    gap_width: float
    gap_area: float
    gap_solids: tuple[float, float]
    rotor_radius: float
    winding_split: Array
    tooth_share: float
    resistivity_slope: float

    def speed_conductances(self, speed: ArrayLike) -> Array:
        """Return the factors of `speed_branches` at speeds (...) [rad/s], shape (..., 3).

        Gap to teeth and gap to rotor [W/K], and end space [W/(m^2 K)]. The Nusselt number of the
        gap stands on twice its width (hydraulic diameter) and on the difference between the two
        walls, h = Nu k / (2 delta); each wall takes half of that difference, 2 h A.
        """
        w = np.abs(np.asarray(speed, dtype=float))
        taylor = taylor_number(
            w, radius=self.gap_radius, gap=self.gap_width, viscosity=_AIR_VISCOSITY
        )
        film = gap_nusselt(taylor) * _AIR_CONDUCTIVITY / (2.0 * self.gap_width)
        wall = 1.0 / (2.0 * film * self.gap_area)
        teeth, rotor = self.gap_solids
        end = end_space_coefficient(END_AIR_SPEED * w * self.rotor_radius)
        return np.stack([1.0 / (wall + 1.0 / teeth), 1.0 / (wall + 1.0 / rotor), end], axis=-1)

    def conductance(self, speed: ArrayLike) -> Array:
        """Return conductance matrices, shape (..., n, n) [W/K], at speeds (...) [rad/s]."""
        factors = self.speed_conductances(speed)
        n = len(NODES)
        branches = factors @ self.speed_branches.reshape(3, n * n)
        return np.asarray(self.fixed + branches.reshape(*factors.shape[:-1], n, n))


def place_losses(
    network: ThermalNetwork, *, winding_ac: ArrayLike, iron: ArrayLike, magnet: ArrayLike,
    mechanical: MechanicalLoss, tooth_share: float | None = None,
    winding_ac_opening: ArrayLike | None = None, rotor_iron: ArrayLike = 0.0,
) -> Array:  # fmt: skip
    """Return the loss in each node from losses by part.

    Parameters
    ----------
    network : ThermalNetwork
        The network.
    winding_ac : array_like, shape (...)
        Winding loss beyond the direct-current loss [W] (that goes into `Load.winding_dc`).
    iron, magnet : array_like, shape (...)
        Stator iron and magnet loss [W].
    mechanical : MechanicalLoss
        Arrays of shape (...).
    tooth_share : float, optional
        Teeth's share of iron loss; by mass when not given.
    winding_ac_opening : array_like, shape (...), optional
        What of `winding_ac` arises in the third of the slots nearest to the opening [W], which the
        hot-spot node stands for; when not given it is spread evenly over the slots.
    rotor_iron : array_like, shape (...)
        Loss in the rotor's sheets [W].

    Returns
    -------
    ndarray, shape (..., n)
        [W]. Alternating-current loss goes to the slots; bearing friction half to the shaft
        (inner rings) and half to the bearings' outer rings, air friction to the air of gap and
        end space. The rotor's iron loss arises near its surface, the node stands for all of it.
    """
    share = network.tooth_share if tooth_share is None else tooth_share
    # Skin and proximity effect act in the slot's field; end turns have next to none.
    in_slot = network.winding_split.copy()
    in_slot[AT["end_winding"]] = 0.0
    in_slot /= in_slot.sum()
    ac, fe, pm = (np.asarray(x, dtype=float)[..., None] for x in (winding_ac, iron, magnet))
    bearings, gap, ends = (
        np.asarray(x)[..., None] for x in (mechanical.bearings, mechanical.gap, mechanical.ends)
    )

    def into(**shares: float) -> Array:
        row = np.zeros(len(NODES))
        for name, value in shares.items():
            row[AT[name]] = value
        return row

    hot = np.zeros(len(NODES))
    hot[AT["hot_spot"]] = 1.0
    if winding_ac_opening is None:
        winding = ac * in_slot
    else:
        opening = np.asarray(winding_ac_opening, dtype=float)[..., None]
        rest = in_slot * (1.0 - hot)
        winding = opening * hot + (ac - opening) * rest / rest.sum()
    return np.asarray(
        winding
        + fe * into(teeth=share, yoke=1.0 - share)
        + np.asarray(rotor_iron, dtype=float)[..., None] * into(rotor_iron=1.0)
        + pm * into(magnets=1.0)
        + bearings * into(shaft=0.5, bearings=0.5)
        + gap * into(gap=1.0)
        + ends * into(end_air=1.0)
    )
