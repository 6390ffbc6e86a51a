"""Invitations under faults: real processes, real servers, everything on loopback, every process ended by its own id."""
