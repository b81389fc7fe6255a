"""Charging many packs on few outputs from one supply: what goes where, at what current, in what order."""
