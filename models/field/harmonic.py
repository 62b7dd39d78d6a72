"""Time-harmonic field at slip frequency: eddy currents in the rotor, bars joined by rings.

Seen from the rotor, a travelling wave of spatial order n that the stator drives at angular
frequency w has the frequency w - n W (W the rotor's speed along the wave): the slip frequency.
Conductors of the rotor then obey

    curl nu curl A + j w_s sigma A + sigma g = J_s

with g the gradient of the electric potential along a bar (zero for a conductor whose ends are
joined without resistance). Amplitudes are peak values, time runs as e^(j w t). The rotor keeps
one position: what its slots do to the wave while they move is left out.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import bmat, coo_matrix, csc_matrix, diags
from scipy.sparse.linalg import splu

from models.errors import InvalidInputError, SolverError
from models.field.assemble import System
from models.field.solve import at_angle
from models.field.stiffness import add_linear
from models.geometry.section import Region
from models.materials.reluctivity import ReluctivityTable

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

BAR = "bar"
"""Part name of the cage's bars; their `slot` counts them along the pole."""
START_FLUX_DENSITY = 1.3
"""The first solution uses the effective permeability at this flux density [T]."""
TOLERANCE = 2e-3
"""Largest change of the potential over its largest value at which the permeability stands."""
STEPS = 60
"""Steps of the effective permeability before giving up."""


@dataclass(frozen=True)
class Rings:
    """How the bars are joined at their ends.

    Attributes
    ----------
    resistance, inductance : float
        Of one segment of one ring, bar to bar [ohm], [H].
    length : float
        Bar length [m].
    """

    resistance: float
    inductance: float
    length: float


@dataclass(frozen=True, eq=False)
class HarmonicSystem:
    """Equations of a section with conductors.

    Attributes
    ----------
    system : System
        Static equations; iron by table or constant.
    conductivity : ndarray, shape (m,)
        Of each element [S/m].
    bar_conductivity : float
        Of the bars [S/m]; 0 without a cage.
    rings : Rings or None
        Ends of the bars.
    poles : int
        Poles that the section covers.
    """

    system: System
    conductivity: Array
    bar_conductivity: float
    rings: Rings | None
    poles: int = 1

    @cached_property
    def mass(self) -> csc_matrix:
        """Integral of sigma N_i N_j over all conductors [S/m * m^2]."""
        s = self.system
        index = np.nonzero(self.conductivity > 0.0)[0]
        value = s.elements.value
        weight = s.elements.weight[index] * self.conductivity[index, None]
        local = np.einsum("mq,qi,qj->mij", weight, value, value)
        return self._scatter(index, local)

    @cached_property
    def bar_vectors(self) -> Array:
        """Integral of N_i over each bar, shape (bars, size) [m^2]."""
        s = self.system
        numbers = sorted({r.slot for r in s.regions if r.part == BAR and r.slot is not None})
        out = np.zeros((len(numbers), s.size + 1))
        nodal = np.einsum("mq,qi->mi", s.elements.weight, s.elements.value)
        for row, number in enumerate(numbers):
            members = [k for k, r in enumerate(s.regions) if r.part == BAR and r.slot == number]
            index = np.nonzero(np.isin(s.region, members))[0]
            nodes = s.element_nodes[index]
            np.add.at(out[row], s.unknown[nodes], nodal[index] * s.sign[nodes])
        return out[:, :-1]

    @cached_property
    def bar_areas(self) -> Array:
        """Section of each bar as meshed [m^2]."""
        s = self.system
        numbers = sorted({r.slot for r in s.regions if r.part == BAR and r.slot is not None})
        out = []
        for number in numbers:
            members = [k for k, r in enumerate(s.regions) if r.part == BAR and r.slot == number]
            out.append(s.elements.area[np.isin(s.region, members)].sum())
        return np.array(out)

    def _scatter(self, index: NDArray[np.int64], local: Array) -> csc_matrix:
        s = self.system
        nodes = s.element_nodes[index]
        unknown, sign = s.unknown[nodes], s.sign[nodes]
        values = local * sign[:, :, None] * sign[:, None, :]
        rows = np.broadcast_to(unknown[:, :, None], values.shape)
        columns = np.broadcast_to(unknown[:, None, :], values.shape)
        full = coo_matrix(
            (values.ravel(), (rows.ravel(), columns.ravel())), shape=(s.size + 1, s.size + 1)
        ).tocsc()
        return full[: s.size, : s.size]


@dataclass(frozen=True, eq=False)
class HarmonicSolution:
    """A time-harmonic field.

    Attributes
    ----------
    potential : ndarray of complex, shape (size + 1,)
        Amplitude of the vector potential [Wb/m]; the last entry is the 0 of fixed nodes.
    gradient : ndarray of complex, shape (bars,)
        Amplitude of the electric potential's gradient along each bar [V/m].
    frequency : float
        Angular slip frequency [rad/s].
    steps : int
        Steps of the effective permeability.
    """

    potential: ComplexArray
    gradient: ComplexArray
    frequency: float
    steps: int


def harmonic_system(
    system: System,
    conductivity_of: Callable[[Region], float],
    *,
    rings: Rings | None = None,
    poles: int = 1,
) -> HarmonicSystem:
    """Prepare the equations.

    Parameters
    ----------
    system : System
        From `models.field.assemble.assemble`.
    conductivity_of : callable
        Conductivity of a region [S/m], 0 for what carries no eddy currents.
    rings : Rings, optional
        Joins regions of part `bar`; without it bars are joined without impedance.
    poles : int
        Poles that the section covers, as it was meshed.

    Raises
    ------
    InvalidInputError
        Rings without conducting bars.
    """
    by_region = np.array([conductivity_of(r) for r in system.regions])
    bars = {s for s, r in zip(by_region, system.regions) if r.part == BAR}
    if rings is not None and (len(bars) != 1 or min(bars) <= 0.0):
        raise InvalidInputError("rings need bars of one conductivity above zero in the section")
    return HarmonicSystem(
        system, by_region[system.region], bars.pop() if len(bars) == 1 else 0.0, rings, poles
    )


def effective_reluctivity(table: ReluctivityTable, flux_density: Array) -> Array:
    """Return the reluctivity that relates the fundamentals of a pulsating field.

    Parameters
    ----------
    table : ReluctivityTable
        Sheet.
    flux_density : ndarray, shape (...)
        Amplitude of a sinusoidal flux density [T].

    Returns
    -------
    ndarray, shape (...)
        H_1 / B with H_1 = (2/pi) int_0^pi nu(B^2 sin^2) B sin^2 dt, by the mid-point rule over 8
        places of a quarter period (exact for nu of degree 7 in B^2).
    """
    angle = (np.arange(8) + 0.5) * np.pi / 16.0
    square = np.sin(angle) ** 2
    nu, _ = table(np.asarray(flux_density)[..., None] ** 2 * square)
    return np.asarray(2.0 * np.mean(nu * square, axis=-1))


def solve_harmonic(
    equations: HarmonicSystem, *, angle: float, frequency: float, source: ComplexArray
) -> HarmonicSolution:
    """Solve for the field of a travelling wave.

    Parameters
    ----------
    equations : HarmonicSystem
        From `harmonic_system`.
    angle : float
        Mechanical angle of the rotor's axes [rad].
    frequency : float
        Angular slip frequency [rad/s]; negative when the rotor overtakes the wave.
    source : ndarray of complex, shape (size + 1,)
        Right-hand side of the stator's currents [A], peak.

    Returns
    -------
    HarmonicSolution

    Raises
    ------
    SolverError
        The effective permeability did not settle.
    """
    s = equations.system
    tables = [iron.table for iron in s.iron]
    nu = [
        np.full(iron.weight.shape, float(effective_reluctivity(t, np.array(START_FLUX_DENSITY))))
        for iron, t in zip(s.iron, tables)
    ]
    moves = [np.zeros_like(values) for values in nu]
    shares = [np.full_like(values, 0.4) for values in nu]
    linear = at_angle(s, angle)
    a = np.zeros(s.size + 1, dtype=complex)
    gradient = np.zeros(0, dtype=complex)
    for step in range(1, STEPS + 1):
        stored = linear.copy()
        for iron, values in zip(s.iron, nu):
            add_linear(stored, iron.place, iron.gradient, iron.weight * values)
        last = a
        a, gradient = _solve_linear(equations, stored, frequency, source)
        change = float(np.max(np.abs(a - last)) / max(np.max(np.abs(a)), 1e-300))
        if not s.iron or change < TOLERANCE:
            return HarmonicSolution(a, gradient, frequency, step)
        for k, iron in enumerate(s.iron):
            local = a[iron.unknown]
            slope = np.einsum("mi,mqci->mqc", local, iron.gradient)
            b = np.sqrt(np.sum(np.abs(slope) ** 2, axis=-1))
            move = np.log(effective_reluctivity(iron.table, b) / nu[k])
            # nu spans decades: steps go by its logarithm, each place with its own relaxation,
            # smaller where the last step went too far
            back = move * moves[k] < 0.0
            shares[k] = np.where(back, 0.5 * shares[k], np.minimum(1.3 * shares[k], 1.0))
            moves[k] = move
            nu[k] = nu[k] * np.exp(shares[k] * move)
    raise SolverError(
        f"time-harmonic field: the effective permeability still moved by {change:.2%} after "
        f"{STEPS} steps; the currents are beyond what the sheet's curve can carry"
    )


def _solve_linear(
    equations: HarmonicSystem, stored: Array, frequency: float, source: ComplexArray
) -> tuple[ComplexArray, ComplexArray]:
    s = equations.system
    upper = csc_matrix((stored[:-1], s.rows, s.columns), shape=(s.size, s.size))
    stiffness = upper + upper.T - diags(upper.diagonal())
    matrix = (stiffness + 1j * frequency * equations.mass).tocsc()
    rhs = source[:-1]
    count = 0
    if equations.rings is not None and frequency != 0.0:
        sigma = equations.bar_conductivity
        coupling = csc_matrix(sigma * equations.bar_vectors.T)
        count = coupling.shape[1]
        rings = equations.rings
        segment = rings.resistance + 1j * frequency * rings.inductance
        own = np.diag(sigma * equations.bar_areas).astype(complex)
        own += rings.length / (2.0 * segment) * ring_graph(count, poles=equations.poles)
        # divided by j w the block is symmetric with the coupling
        matrix = bmat([[matrix, coupling], [coupling.T, csc_matrix(own / (1j * frequency))]])
        matrix = matrix.tocsc()
        rhs = np.concatenate([rhs, np.zeros(count)])
    x = splu(matrix, permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True}).solve(
        np.asarray(rhs, dtype=complex)
    )
    potential = np.append(x[: s.size], 0.0)
    return potential, x[s.size :] if count else np.zeros(0, dtype=complex)


def ring_graph(bars: int, *, poles: int = 1) -> Array:
    """Return 2 g_k - g_(k-1) - g_(k+1) over the bars of a section, what follows it repeating.

    Over one pole the next bar is the first one with the opposite sign, over two the same.
    """
    wrap = -1.0 if poles % 2 else 1.0
    out = 2.0 * np.eye(bars)
    for k in range(bars):
        out[k, (k - 1) % bars] -= wrap if k == 0 else 1.0
        out[k, (k + 1) % bars] -= wrap if k == bars - 1 else 1.0
    return out


def eddy_loss(
    equations: HarmonicSystem, solution: HarmonicSolution, parts: tuple[str, ...]
) -> float:
    """Return the mean loss in conducting regions of these parts, per section and metre [W/m].

    1/2 int |J|^2 / sigma with J = -sigma (j w A + g).
    """
    s = equations.system
    members = [k for k, r in enumerate(s.regions) if r.part in parts]
    index = np.nonzero(np.isin(s.region, members) & (equations.conductivity > 0.0))[0]
    nodes = s.element_nodes[index]
    a = (solution.potential[s.unknown[nodes]] * s.sign[nodes]) @ s.elements.value.T
    field = 1j * solution.frequency * a
    if solution.gradient.size:
        numbers = np.array([s.regions[k].slot if s.regions[k].part == BAR else -1
                            for k in s.region[index]])  # fmt: skip
        order = sorted({int(n) for n in numbers if n >= 0})
        for row, number in enumerate(order):
            field[numbers == number] += solution.gradient[row]
    sigma = equations.conductivity[index, None]
    return float(0.5 * np.sum(s.elements.weight[index] * sigma * np.abs(field) ** 2))


def ring_loss(equations: HarmonicSystem, solution: HarmonicSolution) -> float:
    """Return the mean loss in both rings, per section [W]: 1/2 R |I_ring|^2 over all segments."""
    if equations.rings is None or not solution.gradient.size:
        return 0.0
    rings = equations.rings
    segment = rings.resistance + 1j * solution.frequency * rings.inductance
    g = solution.gradient
    following = np.append(g[1:], -g[0] if equations.poles % 2 else g[0])
    current = rings.length * (g - following) / (2.0 * segment)
    return float(2.0 * 0.5 * rings.resistance * np.sum(np.abs(current) ** 2))


def mean_torque(equations: HarmonicSystem, solution: HarmonicSolution, angle: float) -> float:
    """Return the mean torque on the rotor per section (one pole, or two) and metre [N]."""
    s, gap = equations.system, equations.system.gap
    a1, a2 = solution.potential[s.gap_rotor], solution.potential[s.gap_stator]
    cosine, sine = gap.cosine_1 @ a1, gap.sine_1 @ a1
    c, n = np.cos(gap.orders * angle), np.sin(gap.orders * angle)
    turned_cosine, turned_sine = c * cosine - n * sine, c * sine + n * cosine
    cross = turned_cosine * np.conj(gap.sine_2 @ a2) - turned_sine * np.conj(gap.cosine_2 @ a2)
    return float(0.5 * np.sum(gap.orders * gap.mutual * cross.real))
