"""The desk: a face for the terminal. It attaches to a run, shows what it says, and hands on what the person says."""
