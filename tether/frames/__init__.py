"""What the pixels say. Pure functions on arrays: no camera, no journal, no clock."""
