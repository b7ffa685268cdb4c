"""Light that changes, as numbers: no input or output, no clock."""
