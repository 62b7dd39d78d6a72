"""Second-order triangles with curved sides: gradients and weights at three points."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.errors import SolverError

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

_POINTS = np.array([[1.0, 1.0], [4.0, 1.0], [1.0, 4.0]]) / 6.0
"""Three-point rule of degree two on the unit triangle (weights 1/6)."""


def shape_functions(xi: Array, eta: Array) -> tuple[Array, Array, Array]:
    """Return the six shape functions and their derivatives, each of shape (q, 6)."""
    a, b, c = 1.0 - xi - eta, xi, eta
    zero = np.zeros_like(a)
    n = np.stack(
        (a * (2 * a - 1), b * (2 * b - 1), c * (2 * c - 1), 4 * a * b, 4 * b * c, 4 * c * a), -1
    )
    d_xi = np.stack((1 - 4 * a, 4 * b - 1, zero, 4 * (a - b), 4 * c, -4 * c), -1)
    d_eta = np.stack((1 - 4 * a, zero, 4 * c - 1, -4 * b, 4 * b, 4 * (a - c)), -1)
    return n, d_xi, d_eta


@dataclass(frozen=True, eq=False)
class Elements:
    """Geometry of elements at their three integration points.

    Attributes
    ----------
    gradient : ndarray, shape (m, 3, 2, 6)
        Derivatives of the shape functions along x and y [1/m].
    weight : ndarray, shape (m, 3)
        Area weights [m^2].
    value : ndarray, shape (3, 6)
        Shape functions at the points.
    place : ndarray, shape (m, 3, 2)
        The points [m].
    """

    gradient: Array
    weight: Array
    value: Array
    place: Array

    @property
    def area(self) -> Array:
        """Area of each element [m^2]."""
        out: Array = self.weight.sum(axis=1)
        return out


def element_geometry(nodes: Array, elements: IntArray) -> Elements:
    """Return gradients and weights of elements.

    Raises
    ------
    SolverError
        An element is turned over or folded.
    """
    n, d_xi, d_eta = shape_functions(_POINTS[:, 0], _POINTS[:, 1])
    corners = nodes[elements]
    along_xi = np.einsum("qi,mic->mqc", d_xi, corners)
    along_eta = np.einsum("qi,mic->mqc", d_eta, corners)
    det = along_xi[..., 0] * along_eta[..., 1] - along_xi[..., 1] * along_eta[..., 0]
    if np.any(det <= 0.0):
        bad = int(np.argmin(det.min(axis=1)))
        x, y = 1e3 * corners[bad, :3].mean(axis=0)
        raise SolverError(
            f"mesh_element_folded: element at ({x:.3f}, {y:.3f}) mm is turned "
            "over; two edges of the section come too close there"
        )
    gradient = np.empty((len(elements), 3, 2, 6))
    gradient[:, :, 0] = (along_eta[..., 1, None] * d_xi - along_xi[..., 1, None] * d_eta) / det[
        ..., None
    ]
    gradient[:, :, 1] = (along_xi[..., 0, None] * d_eta - along_eta[..., 0, None] * d_xi) / det[
        ..., None
    ]
    return Elements(gradient, det / 6.0, n, np.einsum("qi,mic->mqc", n, corners))
