"""Ampstead: calculators for a model flier's battery packs."""
