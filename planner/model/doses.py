"""Harm that adds up: how fast heat and cold spend what brood, the queen's stored sperm and workers can stand.

Each law grows tenfold every so many kelvin and sets in at a floor without a step, for the rate at the floor is taken
off. Numbers with their grades stand in ``resources/parameters.toml``.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from planner.model import bees
from planner.model.parameters import Parameters
from planner.model.records import Bools, Floats


@dataclass(frozen=True)
class DoseLaw:
    """``per_s (10^((T - at_c) / tenth_k) - 10^((floor_c - at_c) / tenth_k))``, never below zero; scalars or (case,).

    ``tenth_k`` is negative where the colder does the more harm. Left out: recovery, and what a sudden change does.
    """

    per_s: Floats
    at_c: Floats
    tenth_k: Floats
    floor_c: Floats

    @property
    def floor_per_s(self) -> Floats:
        """The rate that is taken off."""
        return self.per_s * bees.tenfold(self.floor_c, self.at_c, self.tenth_k)

    def rate(self, temp_c: Floats) -> Floats:
        """Dose per second at a temperature, ``(case,)`` or ``(time, case)``."""
        return np.asarray(
            np.maximum(self.per_s * bees.tenfold(temp_c, self.at_c, self.tenth_k) - self.floor_per_s, 0.0)
        )

    def beyond_k(self, temp_c: Floats) -> Floats:
        """How far a temperature lies on the harmful side of the floor, K."""
        return np.asarray(np.sign(self.tenth_k) * (temp_c - self.floor_c))

    def spare_k(self, dose: Floats, most: Floats, lasts_s: Floats, extreme_c: Floats) -> Floats:
        """Kelvin by which the whole history may shift to the harmful side until the dose is ``most``, (case,).

        Exact for a history of one temperature on either side of the floor, an estimate for others; its sign is
        exact for all: negative just where the dose is beyond ``most``.

        Parameters
        ----------
        dose, most : what was taken up, and what may be
        lasts_s : how long the history is
        extreme_c : its most harmful temperature
        """
        held = self.floor_per_s * lasts_s
        with np.errstate(divide="ignore"):  # a history of no length takes any shift
            tenths = np.log10((most + held) / (dose + held))
        short = np.where(dose <= most, np.maximum(-self.beyond_k(extreme_c), 0.0), 0.0)
        return np.asarray(np.abs(self.tenth_k) * tenths + short)

    def take(self, cases: Bools) -> DoseLaw:
        """The law of some of the cases."""
        return DoseLaw(
            *(v[cases] if (v := getattr(self, f.name)).ndim else v for f in fields(self)),
        )


def brood_heat(p: Parameters) -> DoseLaw:
    """Sealed brood in the heat: ``1/13 h`` at 40 C, ten times faster per 3 K, none at 36.5 C (grade D)."""
    return DoseLaw(_per_s(p.brood_dose_h), p.brood_dose_c, p.brood_dose_z_k, p.brood_dose_floor_c)


def brood_cold(p: Parameters) -> DoseLaw:
    """Sealed brood in the cold: 1 after 12 h at 20 C, ten times faster per 15 K colder, none at 28 C.

    The dose at 20 C is kept as it was seen (Wang et al. 2016, PLoS ONE 11:e0154547; grade B), the slope is an
    estimate (D).
    """
    kept = 1.0 - bees.tenfold(p.brood_cold_floor_c, p.brood_cold_c, -p.brood_cold_z_k)
    return DoseLaw(
        _per_s(p.brood_cold_h) / kept, p.brood_cold_c, np.asarray(-p.brood_cold_z_k), p.brood_cold_floor_c
    )


def sperm_heat(p: Parameters) -> DoseLaw:
    """Relative loss of a queen's stored sperm in the heat: 0.1 per hour at 40 C, ten times faster per 2.4 K.

    Two anchors conflict, and the range of the rows holds both: Pettis et al. 2016, PLoS ONE 11:e0147220, lost half and
    more within 1-2 h at 40 C; McAfee et al. 2021, PMC8357134, nothing in 2 h at 42 C.
    """
    return DoseLaw(p.sperm_loss_per_h / HOUR_S, p.sperm_loss_c, p.sperm_loss_z_k, p.sperm_loss_floor_c)


def sperm_cold(p: Parameters) -> DoseLaw:
    """Relative loss of a queen's stored sperm in the cold: 0.061 per hour at 15.2 C, ten times faster per 11 K colder.

    Anchors of grade B: McAfee et al. 2020, Nat Sustain 3:367; Pettis et al. 2016, PLoS ONE 11:e0147220 (four hours at
    5 C, from 90 to 20 % alive); Rousseau et al. 2020, Apidologie 51, doi 10.1007/s13592-020-00756-3.
    """
    return DoseLaw(
        p.sperm_cold_per_h / HOUR_S, p.sperm_cold_c, np.asarray(-p.sperm_cold_z_k), p.sperm_cold_floor_c
    )


def worker_heat(p: Parameters) -> DoseLaw:
    """Workers in the heat: half dead at dose 1, ``log10 t50(h) = log10 0.15 + (51 - T)/4.1``, none at 40 C (D)."""
    return DoseLaw(_per_s(p.worker_t50_h), p.worker_t50_c, p.worker_t50_z_k, p.worker_dose_floor_c)


HOUR_S = 3600.0


def _per_s(hours: Floats) -> Floats:
    return np.asarray(1.0 / (hours * HOUR_S))


def dead_share(dose: Floats, p: Parameters) -> Floats:
    """Share of workers dead at a dose; one half at dose 1 (grade D)."""
    return np.asarray(1.0 - bees.alive_share(dose, p))


def dose_of(dead: Floats, p: Parameters) -> Floats:
    """The dose at which so many workers are dead, the other way round."""
    return np.asarray((dead / (1.0 - dead)) ** (1.0 / p.death_steepness))
