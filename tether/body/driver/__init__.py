"""Real bodies, through libgphoto2. What the library calls things stays in here and in the body files."""
