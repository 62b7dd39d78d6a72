"""Hand-over files of a design: parameters, drawings, maps, plots, data sheet, pack."""
