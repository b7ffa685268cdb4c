"""The durable record of an outing, and what is read out of it."""

from tether.journal.codec import Entry
from tether.journal.store import Journal
from tether.journal.story import FrameStory, LadderStory, Outing
from tether.journal.telling import read_outing, tell

__all__ = ["Entry", "FrameStory", "Journal", "LadderStory", "Outing", "read_outing", "tell"]
