"""The folder on disk: where frames lie and how they are named, its job, its plan made ready, copies."""
