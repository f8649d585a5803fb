"""Tables of bodies, finishes, materials and contacts move in here, one source for each row."""
