"""A simulated body, with the world in front of it. Nothing it says is a claim about a camera that can be bought."""

from tether.body.simulated.body import SimulatedBody
from tether.body.simulated.faults import Fault
from tether.body.simulated.world import World, load_world

__all__ = ["Fault", "SimulatedBody", "World", "load_world"]
