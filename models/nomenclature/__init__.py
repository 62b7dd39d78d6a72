"""Every parameter and metric: symbol, unit, definition, plausible range.

This is the one source for study keys, tables, plots, exports and documentation.

Conventions (printed in every export)
-------------------------------------
* dq quantities are peak values (amplitude-invariant transform): power is 1.5 (v_d i_d + v_q i_q).
* d lies on the magnet axis of the families `interior` and `surface`, on the low-reluctance axis
  of `reluctance` machines (whose magnets, where there are any, point along negative q), and on
  the rotor's flux linkage for cage machines. q leads d by 90 electrical degrees. Inside the
  program reluctance machines are solved in the axes of their section (`models.axes`); whatever
  leaves it is in these.
* Motoring torque, power and current are positive; current angle is measured from the q axis
  towards negative d, in reluctance machines from the d axis towards q: the same angle in space.
* Phase currents of the supply are rms; flux linkages and back-EMF are peak unless named rms.
* SI inside the program, with two exceptions of the trade: temperatures are in degC (differences
  in K) and angles in files are in degrees. Files and tables carry the unit in the key or header.
* Energy supplied to the terminals covers winding loss and air-gap power; iron, magnet and
  mechanical losses brake the rotor, so shaft torque is air-gap torque less their drag.
"""

from models.nomenclature.families import FAMILIES, check_family
from models.nomenclature.metrics import METRICS, Metric, family_metrics, metric
from models.nomenclature.parameters import PARAMETERS, Parameter, family_parameters
from models.nomenclature.spelling import nearest

__all__ = [
    "CONVENTIONS",
    "FAMILIES",
    "METRICS",
    "PARAMETERS",
    "Metric",
    "Parameter",
    "check_family",
    "family_metrics",
    "family_parameters",
    "metric",
    "nearest",
]

CONVENTIONS: tuple[str, ...] = (
    "dq quantities are peak values, amplitude-invariant: P = 1.5 (v_d i_d + v_q i_q)",
    "d on the magnet axis (interior, surface), the low-reluctance axis (reluctance, whose magnets "
    "point along negative q) or the rotor's flux (cage); q leads by 90 electrical degrees",
    "motoring is positive; current angle from the q axis towards negative d (reluctance: from the "
    "d axis towards q)",
    "supply phase current in A rms; flux linkage and back-EMF in peak values",
    "temperatures in degC; all else SI unless the header says otherwise",
)
