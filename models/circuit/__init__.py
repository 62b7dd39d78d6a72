"""Circuit model: a nonlinear magnetic network of one pole."""
