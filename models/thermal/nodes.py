"""The thermal network as data: thirteen nodes from coolant to magnets.

Heat leaves through the water jacket, oil on the end winding and in the shaft (whichever the duty
has), and a little through the frame to ambient air. The air gap and the end space depend on
speed, all else is fixed. `models.thermal.network` makes it from a machine.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.losses.mechanical import MechanicalLoss
from models.thermal import air_films
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

        Gap to teeth and gap to rotor [W/K], and end space [W/(m^2 K)].
        """
        w = np.asarray(speed, dtype=float)
        factors = air_films.speed_factors(
            w.ravel(), self.gap_radius, self.gap_width, self.gap_area, *self.gap_solids,
            _AIR_VISCOSITY, _AIR_CONDUCTIVITY, END_AIR_SPEED * self.rotor_radius,
        )  # fmt: skip
        return np.asarray(factors).reshape(*w.shape, 3)

    @cached_property
    def places(self) -> Array:
        """Shares in which `place_losses` puts its eight parts into the nodes, shape (8, n).

        Parts: alternating-current loss at the slots' opening and in the rest of them, stator iron
        (split by mass), rotor iron, magnets, bearings, air in the gap and in the end space.
        """
        return _places(self.winding_split, self.tooth_share)

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
    places = network.places if tooth_share is None else _places(network.winding_split, tooth_share)
    if winding_ac_opening is None:
        # Skin and proximity effect act in the slot's field; end turns have next to none.
        in_slots = 1.0 - network.winding_split[AT["end_winding"]]
        opening = np.asarray(winding_ac) * (network.winding_split[AT["hot_spot"]] / in_slots)
    else:
        opening = np.asarray(winding_ac_opening)
    parts = (
        opening, winding_ac - opening, iron, rotor_iron, magnet,
        mechanical.bearings, mechanical.gap, mechanical.ends,
    )  # fmt: skip
    stacked = np.empty((*np.broadcast_shapes(*(np.shape(x) for x in parts)), len(parts)))
    for k, part in enumerate(parts):
        stacked[..., k] = part
    return np.asarray(stacked @ places)


def _places(winding_split: Array, tooth_share: float) -> Array:
    rest = winding_split.copy()
    rest[[AT["end_winding"], AT["hot_spot"]]] = 0.0
    places = np.zeros((8, len(NODES)))
    places[0, AT["hot_spot"]] = 1.0
    places[1] = rest / rest.sum()
    places[2, AT["teeth"]], places[2, AT["yoke"]] = tooth_share, 1.0 - tooth_share
    places[3, AT["rotor_iron"]] = 1.0
    places[4, AT["magnets"]] = 1.0
    places[5, AT["shaft"]] = places[5, AT["bearings"]] = 0.5
    places[6, AT["gap"]] = 1.0
    places[7, AT["end_air"]] = 1.0
    return places
