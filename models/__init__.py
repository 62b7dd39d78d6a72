"""Electric traction motors: geometry, magnetics, losses, heat, strength and cost."""

from models.kernel_cache import prepare_compiler

PHYSICS_VERSION = 7
"""Raised whenever the same design under the same duty may give other metrics than before.

It is part of every stored evaluation's key, so a change makes old evaluations strangers.
"""

prepare_compiler()
