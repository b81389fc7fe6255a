"""A small web app that embeds the service: the club's board of packs, each with its charge for tonight.

    pip install . ./client flask
    flask --app client/examples/club_board.py run

Nothing else runs: the calculators answer inside the app. With a server of the club's own, only the line that makes the
client changes.
"""

from flask import Flask, Response, abort, render_template_string, request

from ampstead_client import AmpsteadClient, InvalidQuestion, Pack

PACKS = {
    "yellow-glider": Pack(cells=3, capacity="1150 mAh", cell_resistance="11 mΩ", rest_voltage="11.58 V"),
    "red-trainer-A": Pack(cells=3, capacity="2250 mAh", cell_resistance="8.5 mΩ", rest_voltage="11.31 V"),
    "blue-aerobat-A": Pack(cells=4, capacity="3700 mAh", cell_resistance="4.2 mΩ", rest_voltage="15.07 V"),
}
BOARD = """<!doctype html><html lang="en"><meta charset="utf-8"><title>Tonight's bench</title>
<h1>Tonight's bench</h1>
{% for name, charge in charges.items() %}
<section><h2>{{ name }}</h2><p>{{ charge.sentence }}</p>
<ul>
{% for caution in charge.cautions if not caution.standing %}
<li>{{ caution.severity }}: {{ caution.text }}</li>
{% endfor %}
</ul>
<img alt="{{ charge.sentence }}" src="{{ url_for('curve', name=name) }}"></section>
{% endfor %}
<p><strong>Never leave a charging pack alone.</strong></p></html>"""

app = Flask(__name__)
client = AmpsteadClient.embedded()


@app.get("/")
def board() -> str:
    charges = {name: client.charge_current(pack=pack, supply_limit="180 W") for name, pack in PACKS.items()}
    return render_template_string(BOARD, charges=charges)


@app.get("/<name>.svg")
def curve(name: str) -> Response:
    pack = PACKS.get(name) or abort(404)
    return Response(client.picture(client.charge_current(pack=pack, supply_limit="180 W")), mimetype="image/svg+xml")


@app.get("/sag")
def sag() -> tuple[dict[str, object], int]:
    """Whatever a visitor asks: /sag?cells=4&capacity=3700mAh&current=48A"""
    try:
        answer = client.sag(**request.args.to_dict())  # type: ignore[arg-type]
    except TypeError as unknown:
        return {"errors": [str(unknown)]}, 422
    except InvalidQuestion as refused:
        return {"errors": [error.message for error in refused.errors]}, 422
    return {"sentence": answer.sentence, "holds": answer.holds, "cautions": [c.text for c in answer.cautions]}, 200
