"""Losses: winding, iron, magnets, bearings and air friction."""
