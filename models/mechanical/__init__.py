"""Masses, inertia and rotor strength."""
