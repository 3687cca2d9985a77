from __future__ import annotations

import numpy as np
import pytest

from analysis.kinematics import WheelTravel
from ingest.errors import CannotAnswer
from ingest.records import Leverage

TABLE = ((0, 0), (55, 21), (110, 43.5), (165, 67.3), (220, 92))


def test_passes_through_every_point_and_never_turns_back() -> None:
    linkage = WheelTravel(Leverage(table=TABLE))
    wheel, stroke = np.array(TABLE, dtype=float).T
    assert linkage.wheel_mm(stroke) == pytest.approx(wheel)
    assert (np.diff(linkage.wheel_mm(np.linspace(-4.5, 96.5, 1000))) > 0).all()


def test_leverage_is_the_derivative_and_has_no_steps() -> None:
    linkage = WheelTravel(Leverage(table=TABLE))
    at = np.linspace(0.5, 91.5, 500)
    numeric = (linkage.wheel_mm(at + 1e-4) - linkage.wheel_mm(at - 1e-4)) / 2e-4
    np.testing.assert_allclose(linkage.leverage(at), numeric, rtol=1e-5)
    knots = np.array([21, 43.5, 67.3])
    np.testing.assert_allclose(linkage.leverage(knots - 1e-7), linkage.leverage(knots + 1e-7), rtol=1e-5)
    # A progressive linkage: the wheel gains on the shock less and less.
    assert linkage.leverage(0.0) > linkage.leverage(91.0)


def test_known_curve_is_followed_closely() -> None:
    """wheel = 2.8 s − 0.004 s²: a smooth linkage in closed form, known at six points."""
    stroke = np.linspace(0, 90, 6)
    linkage = WheelTravel(Leverage(table=tuple(zip(2.8 * stroke - 0.004 * stroke**2, stroke, strict=True))))
    at = np.linspace(0, 90, 901)
    assert np.abs(linkage.wheel_mm(at) - (2.8 * at - 0.004 * at**2)).max() < 0.1
    assert np.abs(linkage.leverage(at) - (2.8 - 0.008 * at)).max() < 0.05


def test_end_slope_carries_on_for_five_percent_then_stops() -> None:
    linkage = WheelTravel(Leverage(table=TABLE))
    assert linkage.wheel_mm(94.0) == pytest.approx(220 + 2.0 * linkage.leverage(92.0))
    assert linkage.leverage(94.0) == linkage.leverage(92.0)
    assert linkage.wheel_mm(-4.0) == pytest.approx(-4.0 * linkage.leverage(0.0))
    assert np.isnan(linkage.wheel_mm([-4.7, 96.7])).all()
    assert np.isnan(linkage.leverage([-4.7, 96.7])).all()


def test_way_back_from_wheel_to_stroke() -> None:
    linkage = WheelTravel(Leverage(table=TABLE))
    stroke = np.linspace(-4.5, 96.5, 333)
    np.testing.assert_allclose(linkage.stroke_mm(linkage.wheel_mm(stroke)), stroke, atol=1e-5)
    assert np.isnan(linkage.stroke_mm(260.0))


def test_constant_ratio_has_no_end() -> None:
    linkage = WheelTravel(Leverage(ratio=2.4))
    assert linkage.wheel_mm(50.0) == pytest.approx(120)
    assert linkage.leverage(1000.0) == 2.4
    assert linkage.stroke_mm(120.0) == pytest.approx(50)


@pytest.mark.parametrize(
    "leverage",
    [
        Leverage(),
        Leverage(ratio=0.0),
        Leverage(ratio=-2.0),
        Leverage(table=((0, 0),)),
        Leverage(table=((0, 0), (50, 20), (40, 30))),
        Leverage(table=((0, 0), (50, 20), (60, 20))),
    ],
)
def test_leverage_that_cannot_be_is_refused(leverage: Leverage) -> None:
    with pytest.raises(CannotAnswer, match="leverage"):
        WheelTravel(leverage)
