"""How the rows of the table become the numbers of a case."""

from __future__ import annotations

import numpy as np

from tests.model.scenarios import catalogue, typical


def test_agitation_moves_the_marked_rows_half_way_to_their_ends() -> None:
    """Driving 2.0 between 1.3 and 3.5, by factors; the gain of hot bees 2.0 between 1 and 3, evenly."""
    p = catalogue().parameters.at_agitation(np.array([-1.0, 0.0, 1.0]))
    np.testing.assert_allclose(p.activity_driving, [np.sqrt(1.3 * 2.0), 2.0, np.sqrt(2.0 * 3.5)])
    np.testing.assert_allclose(p.agitation_gain, [1.5, 2.0, 2.5])
    assert p.rest_heat_w_kg == 7.7


def test_given_values_replace_the_typical_ones() -> None:
    p = catalogue().parameters.with_values({"wax_j_kgk": np.array([1.0, 2.0])})
    assert p.wax_j_kgk.tolist() == [1.0, 2.0]
    assert p.wood_j_kgk == typical().wood_j_kgk == 1700.0


def test_every_value_lies_in_its_range() -> None:
    for row in catalogue().parameters.rows.values():
        assert row.low <= row.value <= row.high, row.name
        assert row.low > 0.0 or not row.log, row.name
