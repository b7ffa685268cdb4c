"""A camera on a USB port that does not exist: a mocked device in front of the programs, a body that answers behind."""
