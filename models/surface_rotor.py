"""What a rotor with magnets on its surface is. Lengths in m, angles in rad."""

from dataclasses import dataclass


@dataclass(frozen=True)
class SurfaceRotor:
    """Rotor with one magnet arc per pole on a sheet core, under a sleeve or bare.

    The d axis is the x axis; the arc spans -arc_half_angle to arc_half_angle.

    Attributes
    ----------
    outer_radius : float
        Inner bound of the mechanical air gap: outside of the sleeve, or of the magnets [m].
    magnet_radius : float
        Outer face of the magnets [m].
    base_radius : float
        Iron under the magnets [m].
    core_radius : float
        Iron between the magnets [m]: the base radius, or more for inset magnets.
    shaft_radius : float
        [m].
    arc_half_angle : float
        Half the angle of the magnet arc [rad].
    is_radial : bool
        Magnetised radially (True) or parallel to the d axis (False).
    sleeve_thickness : float
        [m]; 0 without a sleeve.
    sleeve_material : str
        Its grade.
    sleeve_prestress : float
        Hoop stress at the sleeve's inner face at standstill and 20 degC [Pa].
    magnet_axial_segments, magnet_width_segments : int
        Pieces along the stack and around one arc.
    """

    outer_radius: float
    magnet_radius: float
    base_radius: float
    core_radius: float
    shaft_radius: float
    arc_half_angle: float
    is_radial: bool
    sleeve_thickness: float
    sleeve_material: str
    sleeve_prestress: float
    magnet_axial_segments: int
    magnet_width_segments: int

    @property
    def magnet_thickness(self) -> float:
        """Radial thickness of the magnets [m]."""
        return self.magnet_radius - self.base_radius

    @property
    def arc_length(self) -> float:
        """Length of one magnet arc at half its thickness [m]."""
        return (self.magnet_radius + self.base_radius) * self.arc_half_angle
