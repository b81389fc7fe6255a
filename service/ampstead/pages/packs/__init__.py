"""A person's list of packs: uploaded, answered and forgotten. Nothing of it is kept, and nothing of it is logged.

The list is a file of the person's own, TOML or a table of CSV, and this room reads it anew: the service knows nothing
of the client, which keeps such files. ``files`` takes it apart, ``listed`` reads packs and readings by the readers of
the calculators' own inputs, ``standing`` asks pack-fitness of each pack, ``trends`` tells how they change.
"""

LONGEST_LIST = 256 * 1024
"""Bytes of a list: a thousand readings with their remarks."""
