"""A few frames without a ladder: base search, filter strength, shutter time, trial."""
