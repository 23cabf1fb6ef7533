"""Which march walks the cases through time: the compiled one where it was built and is known to be ours, else numpy's.

Both take the same records and give the same; the numpy march (``integrate``) is the reference and the one to read.
"""

from __future__ import annotations

from planner.model import integrate as numpy_march
from planner.model.integrate import STEP_S, Cases, Histories
from planner.model.kernel import hand_over
from planner.model.kernel.library import Refused, library
from planner.model.limits import Assessment, assess
from planner.model.loading_places import LocalAir
from planner.model.parameters import Parameters
from planner.model.timeline import VehicleState


def march(
    cases: Cases,
    vehicle: VehicleState,
    local_air: LocalAir,
    p: Parameters,
    *,
    step_s: float = STEP_S,
    detail: bool = True,
) -> Histories:
    """Walk every case through its trip; arguments and answer as of ``integrate.integrate``."""
    compiled = library()
    if isinstance(compiled, Refused):
        return numpy_march.integrate(cases, vehicle, local_air, p, step_s=step_s, detail=detail)
    return hand_over.integrate(compiled, cases, vehicle, local_air, p, step_s=step_s, detail=detail)


def judged(
    cases: Cases,
    vehicle: VehicleState,
    local_air: LocalAir,
    p: Parameters,
    *,
    step_s: float = STEP_S,
) -> Assessment:
    """Walk every case through its trip and judge it, histories left aside."""
    compiled = library()
    if isinstance(compiled, Refused) or not compiled.judges:
        seen = march(cases, vehicle, local_air, p, step_s=step_s, detail=False)
        time_s, moving = vehicle.time_s[:, cases.track], vehicle.moving[:, cases.track]
        return assess(seen, cases.boxes, time_s, p, step_s, moving)
    return hand_over.judge(compiled, cases, vehicle, local_air, p, step_s=step_s)
