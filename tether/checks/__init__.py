"""Before a run: what is looked at, what a ladder needs, the machine, its clocks, keeping it awake."""
