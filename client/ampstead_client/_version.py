"""The installed version, which the package shows and the transport sends."""

from importlib.metadata import PackageNotFoundError, version

try:
    __version__ = version("ampstead-client")
except PackageNotFoundError:  # run from a source tree that was never installed
    __version__ = "0+source"
