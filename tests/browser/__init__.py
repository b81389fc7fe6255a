"""A package, so that a fixture of its scope ends with the room, and not with the whole run as in a plain folder."""
