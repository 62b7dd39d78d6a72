"""The HTTP interface of the service; every route stands in docs/decisions/009-service-api.md."""
