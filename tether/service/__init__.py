"""The processes of a run: launch, setup, rehearsal, finish, scheduler."""
