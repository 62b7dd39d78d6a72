"""What each model is known to be good to: measured here, and published for models of its kind."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Known:
    """One model.

    Attributes
    ----------
    model : str
        What is computed, and how.
    here : str
        What was measured in this project, and against what; "not measured" where nothing was.
    published : str
        What models of this kind are known to reach.
    source : str
        Where that stands: "read" if the text or its abstract was, else "from memory".
    """

    model: str
    here: str
    published: str
    source: str


_MEMORY = "from memory of the literature"

KNOWN: tuple[Known, ...] = (
    Known("magnetic network, flux and mean torque", "against our field model: the tables above",
          "flux 2-5 % (best 1-2), torque 3-8 % rated and 5-15 % peak (best 2-3)", _MEMORY),
    Known("magnetic network, L_d and L_q", "psi_d and psi_q: the tables above",
          "5-15 % (best 3)", _MEMORY),
    Known("finite elements, flux and mean torque",
          "a published surface-magnet machine: 0.2 %; mesh 0.5 % (decision 007)",
          "mesh 0.2-1 %; against measured back-EMF 1-4 % and torque 2-5 %, 10 % at peak current",
          _MEMORY),
    Known("finite elements, torque ripple", "mesh error: decision 007; not against a measurement",
          "mesh 3-10 %", _MEMORY),
    Known("step skew", "linear machine: exact; torque against slices solved one by one by the "
          "field model, 8 points: 0.2 %; leakage between slices is left out", "no figure known",
          "-"),
    Known("radial-force wave of pole order, by the network",
          "against our field model, 6 designs at 2 current angles: median 6 %, worst 15 %",
          "no figure known", "-"),
    Known("ring modes of the stator", "a free ring of a public verification manual: 1e-4",
          "10-30 % against measured stators: sheets, winding and frame are neither ring nor mass",
          _MEMORY),
    Known("winding loss of bars and strands", "closed forms: below 0.01 %",
          "one-dimensional form 5-10 % deep in the slot, 15-30 % at the opening under saturation",
          _MEMORY + "; that saturation and field weakening are what makes it depart from finite "
          "elements: Nalakath, Preindl and others on rectangular conductors (abstract read)"),
    Known("loss by the inverter's switching", "flux and voltage ripple: closed forms, 0.1 %; the "
          "sheets' answer to it: not measured",
          "eddy loss by effective voltage: excellent agreement with measured sheets and motors; "
          "10-40 % of iron loss in all",
          "Gmyrek, Boglietti, Cavagnino, IEEE Trans. Ind. Electron. 55(4) 1722, 2008 (abstract "
          "read); the share from memory"),
    Known("iron loss", "maker's table of one sheet within 10 %, others by their class point",
          "20-50 % too low against machines without a build factor; best 5-10 %",
          _MEMORY + "; overview: Krings and Soulard, J. Electr. Eng. 10(3), 2010 (abstract read)"),
    Known("magnet eddy loss", "blocks by the torsion analogy: 0.01 %; the ripple that drives it: "
          "the tables above, decision 014",
          "two-dimensional forms 1.5-5 times too high when pieces are short along the stack; "
          "three-dimensional closed forms 5-10 %",
          _MEMORY + "; review: Ouamara and Dubas, Math. Comput. Appl. 24(3) 67, 2019"),
    Known("bearing friction", "by hand; not measured",
          "30 % or worse for grease; higher after the start",
          "from memory of Harris, Rolling Bearing Analysis"),
    Known("air friction", "free disc: 0.2 %; the branches of the gap meet within 6 %",
          "gap form within about 10 % of tests on smooth cylinders",
          "from memory of Bilgen and Boulos, J. Fluids Eng. 95(1) 122, 1973"),
    Known("thermal network", "closed forms only: duct, gap, slot, transient; no machine",
          "below 10 % for most parts of six traction motors, with the best set of published "
          "correlations; uncalibrated 10-20 K, calibrated 2-5 K",
          "P.-O. Gronwald and T. A. Kern, World Electr. Veh. J. 12(2) 76, 2021, "
          "doi:10.3390/wevj12020076 (abstract read); the kelvins from memory"),
    Known("oil on end windings", "form and band only; an extrapolation to oil and to end windings",
          "a detailed three-dimensional model of one oil-jet motor: below 7 % on average",
          "Energies 18(16) 4302, 2025, doi:10.3390/en18164302 (abstract read)"),
    Known("bridge and rib stress, closed form",
          "against our plane-stress elements, 120 designs: peak -11 to +19 % (5th to 95th "
          "percentile), worst -24 and +44 %", "peak stress by elements: mesh 5-15 %", _MEMORY),
    Known("bending critical speed", "uniform and stepped shafts: 1e-3 above, never below; bearings "
          "within a factor of two in stiffness", "5-20 % with known bearings", _MEMORY),
    Known("magnet retention", "not measured: a point mass on glue of an assumed strength",
          "no figure known", "-"),
    Known("efficiency map", "both models: the tables above",
          "0.5-1 points at high load, 2-4 at light load; best 0.3; tests themselves 0.3-0.5",
          _MEMORY),
    Known("cost", "every position by hand; prices are public averages or common practice",
          "no figure known; quotations differ by tens of per cent", "common practice, no source"),
)  # fmt: skip


def known_section() -> str:
    """Return the section of the page as text."""
    lines = [
        "## What each model is known to be good to\n",
        "Beside what was measured here stands what is published for models of the same kind. No "
        "machine was measured for\nthis project: where a model is compared with a measurement, "
        "that is others' experience, not ours.\n",
        "| model | measured here | published for such models | source |",
        "|---|---|---|---|",
    ]
    lines += [f"| {k.model} | {k.here} | {k.published} | {k.source} |" for k in KNOWN]
    return "\n".join(lines) + "\n"
