"""A person's list of packs, kept in a file of their own: `PackList.load("packs.toml")`.

The service keeps nothing. The file is TOML: `[[pack]]` for each pack, `[[pack.reading]]` for each thing measured on it.
Wants the extra: `pip install "ampstead-client[packs]"`.
"""

from ampstead_client.packs.entries import ListedPack, PackReading
from ampstead_client.packs.faults import Fault, FaultyPacks, NoSuchPack
from ampstead_client.packs.packlist import PackList
from ampstead_client.packs.reports import Report
from ampstead_client.packs.standing import Standing
from ampstead_client.packs.trends import Trend

__all__ = ["Fault", "FaultyPacks", "ListedPack", "NoSuchPack", "PackList", "PackReading", "Report", "Standing", "Trend"]
