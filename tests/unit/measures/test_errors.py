from __future__ import annotations

import copy
import pickle

from gatekeeper.measures.errors import MeasureError


def test_error_names_argument_and_place():
    assert str(MeasureError("tint", "is nan", 2)) == "tint[2] is nan"
    assert str(MeasureError("solid", "is nan")) == "solid is nan"


def test_error_is_caught_as_a_value_error():
    assert issubclass(MeasureError, ValueError)


def test_error_keeps_its_fields_through_copy_and_pickle():
    error = MeasureError("tint", "is nan", 0)
    for other in (copy.copy(error), pickle.loads(pickle.dumps(error))):  # noqa: S301
        assert (other.argument, other.problem, other.index) == ("tint", "is nan", 0)
        assert str(other) == str(error)
