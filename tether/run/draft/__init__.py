"""A draft: a plan that is worked on before its ladder is begun, in a process of its own that a face speaks to."""
