"""The cage induction machine: circuit, leakage, bars, saturation, maps in rotor-flux axes."""
