"""Jobs as JSON-ready data: all of it for the host, for others without what the gate opens to."""

from __future__ import annotations

from typing import Any

from firmware_py.layout.model import Gate, Layout, Spur, Switch
from firmware_py.logbook.screen.jobs import Car, Job, JobStop
from web.access.links import link_of

View = dict[str, Any]


def job_view(job: Job, *, host: bool) -> View:
    """A job. Guests are not shown the industries' notes and the places to spot."""
    return {
        "id": job.id,
        "name": job.name,
        "crew": job.crew,
        "cars": job.cars,
        "rear": job.rear,
        "keys": list(job.keys),
        "stops": [_stop_view(stop, host=host) for stop in job.stops],
    }


def with_paths(view: View, secret: str, round_id: int) -> View:
    """The host's view of a job, with the paths of its crew's page and of its sheet."""
    return view | {
        "link": f"/crew/{link_of(secret, round_id, view['id'])}",
        "sheet": f"/jobs/{view['id']}/sheet",
    }


def layout_view(layout: Layout) -> View:
    """What a job can name: the spurs in the layout's order with the keys they take, and keys."""
    known = {thing.id: thing for thing in layout.things}
    return {
        "layout": layout.name,
        "spurs": [
            {"id": spur.id, "name": spur.name, "keys": list(keys_of(spur, layout))}
            for spur in layout.spurs
        ],
        "keys": [{"id": key.id, "name": known[key.id].name} for key in layout.keys],
    }


def keys_of(spur: Spur, layout: Layout) -> tuple[str, ...]:
    """The keys that a spur's switch and gates are opened with, each once."""
    owners: list[Switch | Gate] = [one for one in layout.switches if one.id == spur.switch]
    owners += [gate for gate in layout.gates if gate.spur == spur.id]
    return tuple(dict.fromkeys(owner.key for owner in owners if owner.key))


def _stop_view(stop: JobStop, *, host: bool) -> View:
    shared = {"spur": stop.spur, "pull": [_car_view(car) for car in stop.pull]}
    if host:
        return shared | {"spot": [_car_view(car) for car in stop.spot], "note": stop.note}
    return shared | {"spot": [{"car": car.car} for car in stop.spot]}


def _car_view(car: Car) -> View:
    return {"car": car.car, "place": car.place}
