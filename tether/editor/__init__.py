"""The plan that is worked on before a run, in a process of its own."""
