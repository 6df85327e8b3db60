"""The charge controller as a device: what its input takes and what its output gives."""
