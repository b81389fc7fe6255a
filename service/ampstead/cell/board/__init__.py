"""Packs joined in parallel: what flows between them, alone or under a charger."""
