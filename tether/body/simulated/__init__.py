"""A simulated body, with the world in front of it. Nothing it says is a claim about a camera that can be bought."""
