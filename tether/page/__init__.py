"""The page for the phone: a face of its own process, attached to a run, that serves what it hears to browsers."""
