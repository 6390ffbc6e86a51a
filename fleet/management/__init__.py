"""Management commands of the register."""
