"""The front of a run: kept up to date, ranked on fixed scales, explained by what binds."""
