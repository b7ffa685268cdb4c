"""One ladder, worked through rung by rung."""
