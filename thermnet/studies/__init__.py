"""Loops over path and value move in here: sweep, size, rank, spread, fit."""
