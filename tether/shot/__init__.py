"""One frame to make, whether it was made so, and which file is of it."""
