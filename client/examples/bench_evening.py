"""The evening before: how to charge the red trainer, and how long the bench is busy.

python bench_evening.py [ADDRESS]
"""

import sys

from ampstead_client import AmpsteadClient, Pack

trainer = Pack(cells=3, capacity="2250 mAh", cell_resistance="8.5, 9, 14 mΩ", rest_voltage="11.31 V")
with AmpsteadClient(*sys.argv[1:2] or ["http://127.0.0.1:8080"], app_name="meadow club bench") as client:
    charge = client.charge_current(pack=trainer, max_rate="2C", charger_power_limit="60 W", supply_limit="180 W")
    print(charge.sentence)
    busy = charge.band("time_total")
    print(f"Bench busy for {busy.high:.0f} at most." if busy else "Nothing to wait for.")
    for caution in charge.cautions:
        print(f"{caution.severity}: {caution.text}")
