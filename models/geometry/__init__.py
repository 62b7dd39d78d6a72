"""Geometry: from parameters to parts, windings and sections."""
