"""The command line, thin over plain calls that return frozen results."""
