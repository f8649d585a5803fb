"""Tables of bodies, environments and finishes, one source for each row."""
