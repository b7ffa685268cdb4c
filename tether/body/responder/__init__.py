"""A simulated camera on the wire: the physics of the simulated body, spoken to over a loopback port.

It speaks the open picture transfer protocol (ISO 15740) over TCP (CIPA DC-005) in the dialects of three families, so
that the driver and the camera library can be run against a body whose truth is known. It is written from the protocol's
side and knows nothing of the driver. Everything in it says that it is simulated.
"""
