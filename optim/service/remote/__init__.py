"""The client's side of the service: what the command line and notebooks use with a URL."""
