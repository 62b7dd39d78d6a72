"""Plane-stress elasticity on second-order triangles: stiffness, loads, solution, stress."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix

from models.field.elements import Elements, element_geometry, shape_functions
from models.field.factor import Factor

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

_NODE_XI = np.array([0.0, 1.0, 0.0, 0.5, 0.5, 0.0])
_NODE_ETA = np.array([0.0, 0.0, 1.0, 0.0, 0.5, 0.5])


@dataclass(frozen=True, eq=False)
class Sheet:
    """A meshed sheet and what it is made of.

    Attributes
    ----------
    nodes : ndarray, shape (n, 2)
        Corner and mid-side nodes [m].
    elements : ndarray of int, shape (m, 6)
        Corners counter-clockwise, then middles of sides 01, 12, 20.
    youngs_modulus : float
        [Pa].
    poisson : float
        Poisson's ratio.
    density : float
        [kg/m^3].
    """

    nodes: Array
    elements: IntArray
    youngs_modulus: float
    poisson: float
    density: float

    @property
    def stiffness(self) -> Array:
        """Matrix from strains (x, y, shear angle) to stresses (x, y, shear) [Pa], shape (3, 3)."""
        e, nu = self.youngs_modulus, self.poisson
        return (
            e
            / (1.0 - nu**2)
            * np.array([[1.0, nu, 0.0], [nu, 1.0, 0.0], [0.0, 0.0, 0.5 * (1.0 - nu)]])
        )


@dataclass(frozen=True, eq=False)
class Deformed:
    """A solved sheet.

    Attributes
    ----------
    sheet : Sheet
    geometry : Elements
        Gradients and weights.
    displacement : ndarray, shape (n, 2)
        [m].
    """

    sheet: Sheet
    geometry: Elements
    displacement: Array

    def stress(self) -> Array:
        """Return (x, y, shear) at the three integration points, shape (m, 3, 3) [Pa]."""
        local = self.displacement[self.sheet.elements]
        return _stress(self.sheet, np.einsum("mqdi,mic->mqcd", self.geometry.gradient, local))

    def nodal_stress(self) -> Array:
        """Return (x, y, shear) at the nodes, shape (n, 3) [Pa].

        Notes
        -----
        The linear field through an element's three integration points, where the error is least,
        carried to its nodes; mean over the elements that share a node.
        """
        points = self.stress()
        # Area coordinates of the integration points and of the nodes.
        inner = np.full((3, 3), 1.0 / 6.0) + 0.5 * np.eye(3)
        nodes = np.column_stack((1.0 - _NODE_XI - _NODE_ETA, _NODE_XI, _NODE_ETA))
        carried = np.einsum("iq,mqs->mis", nodes @ np.linalg.inv(inner), points)
        total = np.zeros((len(self.sheet.nodes), 3))
        np.add.at(total, self.sheet.elements, carried)
        count = np.bincount(self.sheet.elements.ravel(), minlength=len(total))
        out: Array = total / np.maximum(count, 1)[:, None]
        return out

    def stress_at(self, points: Array) -> Array:
        """Return (x, y, shear) at points of shape (k, 2) inside the sheet, shape (k, 3) [Pa]."""
        corners = self.sheet.nodes[self.sheet.elements[:, :3]]
        side = corners[:, 1:] - corners[:, :1]
        det = side[:, 0, 0] * side[:, 1, 1] - side[:, 0, 1] * side[:, 1, 0]
        d = points[:, None] - corners[None, :, 0]
        xi = (d[..., 0] * side[:, 1, 1] - d[..., 1] * side[:, 1, 0]) / det
        eta = (d[..., 1] * side[:, 0, 0] - d[..., 0] * side[:, 0, 1]) / det
        # The element a point lies deepest in; beside a curved edge the one it is least outside of.
        best = np.argmax(np.minimum(np.minimum(xi, eta), 1.0 - xi - eta), axis=1)
        k = np.arange(len(points))
        _, d_xi, d_eta = shape_functions(xi[k, best], eta[k, best])
        nodes = self.sheet.nodes[self.sheet.elements[best]]
        slopes = np.stack((d_xi, d_eta), axis=1)
        jacobian = slopes @ nodes
        gradient = np.linalg.solve(jacobian, slopes)
        moved = self.displacement[self.sheet.elements[best]]
        return _stress(self.sheet, np.einsum("kdi,kic->kcd", gradient, moved))


def _stress(sheet: Sheet, slope: Array) -> Array:
    """Return stresses from displacement gradients (..., component, direction)."""
    strain = np.stack(
        (slope[..., 0, 0], slope[..., 1, 1], slope[..., 0, 1] + slope[..., 1, 0]), axis=-1
    )
    out: Array = strain @ sheet.stiffness
    return out


def equivalent_stress(stress: Array) -> Array:
    """Return the equivalent stress of von Mises in plane stress, shape (...) [Pa].

    Parameters
    ----------
    stress : ndarray, shape (..., 3)
        x, y and shear stress [Pa].

    Notes
    -----
    sqrt(s_x^2 - s_x s_y + s_y^2 + 3 s_xy^2).
    """
    x, y, shear = stress[..., 0], stress[..., 1], stress[..., 2]
    out: Array = np.sqrt(x**2 - x * y + y**2 + 3.0 * shear**2)
    return out


def centrifugal_load(sheet: Sheet, geometry: Elements, speed: float) -> Array:
    """Return nodal forces of the spinning sheet's own mass, shape (n, 2) [N/m]."""
    scale = sheet.density * speed**2 * geometry.weight
    local = np.einsum("mq,mqc,qi->mic", scale, geometry.place, geometry.value)
    out = np.zeros_like(sheet.nodes)
    np.add.at(out, sheet.elements, local)
    return out


def edge_load(sheet: Sheet, edges: IntArray, traction: Array) -> Array:
    """Return nodal forces of a constant traction on straight edges, shape (n, 2) [N/m].

    Parameters
    ----------
    sheet : Sheet
        The sheet.
    edges : ndarray of int, shape (k, 3)
        Start, end and middle node.
    traction : ndarray, shape (2,)
        [Pa].
    """
    length = np.hypot(*(sheet.nodes[edges[:, 1]] - sheet.nodes[edges[:, 0]]).T)
    out = np.zeros_like(sheet.nodes)
    for column, share in zip((0, 1, 2), (1.0 / 6.0, 1.0 / 6.0, 2.0 / 3.0)):
        np.add.at(out, edges[:, column], share * length[:, None] * traction)
    return out


def deform(
    sheet: Sheet,
    load: Array,
    *,
    rollers: tuple[tuple[IntArray, float], ...],
    geometry: Elements | None = None,
) -> Deformed:
    """Solve for the displacement under nodal forces.

    Parameters
    ----------
    sheet : Sheet
        The sheet.
    load : ndarray, shape (n, 2)
        Nodal forces [N/m].
    rollers : tuple of (nodes, angle)
        Nodes that may move only along a direction at this angle from the x axis [rad]: mirror
        planes. They must leave no rigid motion.
    geometry : Elements, optional
        From `models.field.elements.element_geometry`, if known.

    Returns
    -------
    Deformed

    Raises
    ------
    SolverError
        An element is turned over.
    """
    geometry = geometry or element_geometry(sheet.nodes, sheet.elements)
    n, m = len(sheet.nodes), len(sheet.elements)
    # Unknowns of a node: along and across its own axis, which rollers turn.
    turn = np.zeros(n)
    is_free = np.ones((n, 2), dtype=bool)
    for nodes, angle in rollers:
        turn[nodes] = angle
        is_free[nodes, 1] = False
    cos, sin = np.cos(turn), np.sin(turn)
    axes = np.stack((np.stack((cos, sin), -1), np.stack((-sin, cos), -1)), axis=1)

    g = geometry.gradient
    strain = np.zeros((m, 3, 3, 6, 2))
    strain[..., 0, :, 0] = strain[..., 2, :, 1] = g[:, :, 0]
    strain[..., 1, :, 1] = strain[..., 2, :, 0] = g[:, :, 1]
    strain = np.einsum("mqsic,miac->mqsia", strain, axes[sheet.elements]).reshape(m, 9, 12)
    scaled = np.einsum(
        "mq,st,mqtx->mqsx", geometry.weight, sheet.stiffness, strain.reshape(m, 3, 3, 12)
    ).reshape(m, 9, 12)
    stiffness = strain.transpose(0, 2, 1) @ scaled

    number = np.full(2 * n, -1)
    free = np.nonzero(is_free.ravel())[0]
    number[free] = np.arange(len(free))
    unknown = number[2 * sheet.elements[:, :, None] + np.arange(2)].reshape(m, 12)
    row, column = np.repeat(unknown, 12, axis=1), np.tile(unknown, (1, 12))
    keep = (row >= 0) & (column >= row)
    matrix = coo_matrix(
        (stiffness.reshape(m, 144)[keep], (row[keep], column[keep])), shape=(len(free), len(free))
    ).tocsc()
    matrix.sort_indices()
    factor = Factor(matrix.indptr, matrix.indices)
    factor.update(matrix.data)
    moved = np.zeros(2 * n)
    moved[free] = factor.solve(np.einsum("nac,nc->na", axes, load).ravel()[free])
    return Deformed(sheet, geometry, np.einsum("nac,na->nc", axes, moved.reshape(n, 2)))
