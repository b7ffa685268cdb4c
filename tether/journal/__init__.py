"""The one union of records, the durable journal of an outing, and every fold of it."""
