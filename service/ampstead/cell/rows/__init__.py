"""Many packs at once, one row of an array each; every solver here has its twin of the same name in ``one``."""
