"""Loads the one hypothesis profile before any test is made."""

import profiles  # noqa: F401
