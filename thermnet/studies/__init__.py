"""Loops over path and value around the one inner solve: the scan of the beta angle."""
