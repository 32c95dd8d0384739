"""Where and how a road test goes: its legs, and a driver who keeps to them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from shiftlore.driving.road_vehicles import draw_about

PARK, REVERSE, NEUTRAL, FORWARD = "P", "R", "N", "D"
# How a driver moves the pedal: share of its travel a second, and per km/h off the wanted speed (judgement).
PEDAL_RATE = 1.6
PEDAL_PER_KMH = 0.035
PEDAL_PER_KMH_S = 0.006
NEAR_KMH = 3.0
BRAKE_PER_KMH, MOST_BRAKE = 0.016, 0.2
STOP_BRAKE, LAST_BRAKE, LAST_KMH = 0.075, 0.045, 4.0


@dataclass(frozen=True, slots=True)
class Leg:
    """One part of a road test.

    Args:
        seconds: how long it takes.
        lever: `P`, `R`, `N` or `D`.
        kmh: speed that the driver goes for.
        throttle_percent: the pedal until that speed is near; less then.
        brake: 0 to 1 to keep the brake there and the pedal at `throttle_percent` whatever the speed; None lets the
            driver choose both.
        grade_percent: of the road, uphill positive.
    """

    seconds: float
    lever: str = FORWARD
    kmh: float = 0.0
    throttle_percent: float = 0.0
    brake: float | None = None
    grade_percent: float = 0.0


USUAL_ROUTE: tuple[Leg, ...] = (
    Leg(5, PARK),
    Leg(1, REVERSE, brake=0.3),
    Leg(5, REVERSE, 6, 18),
    Leg(4, REVERSE),
    Leg(2, NEUTRAL, brake=0.3),
    Leg(4, FORWARD, brake=0.3),
    Leg(3, FORWARD, brake=1.0, throttle_percent=100),
    Leg(5, FORWARD, brake=0.5),
    Leg(22, FORWARD, 50, 28),
    Leg(12, FORWARD, 50, 30),
    Leg(16, FORWARD, 80, 45),
    Leg(16, FORWARD, 80, 45),
    Leg(14, FORWARD, 60, brake=0.0),
    Leg(14, FORWARD, 105, 85),
    Leg(14, FORWARD, 105, 50),
    Leg(12, FORWARD, 70, 30),
    Leg(20, FORWARD, 70, 60, grade_percent=6),
    Leg(18, FORWARD, 20, 20),
    Leg(6, FORWARD, 20, 20),
    Leg(14, FORWARD, 60, 70),
    Leg(14, FORWARD, 60, 40),
    Leg(14, FORWARD, 0),
    Leg(3, FORWARD, brake=0.4),
    Leg(1, NEUTRAL, brake=0.4),
    Leg(3, PARK, brake=0.3),
)
"""Engagements, stall test, light and hard pulls, steady speeds, a hill, coasting, a kickdown, a stop: four minutes."""


def draw_route(generator: np.random.Generator) -> tuple[Leg, ...]:
    """Draw a way round the usual route: no two drivers are alike (spreads are judgement)."""
    about = partial(draw_about, generator, most=0.3)
    return tuple(
        replace(
            leg,
            seconds=about(leg.seconds, 5) if leg.seconds > 5 else leg.seconds,
            kmh=about(leg.kmh, 6),
            throttle_percent=leg.throttle_percent
            if leg.brake is not None
            else min(about(leg.throttle_percent, 10), 100.0),
            grade_percent=about(leg.grade_percent, 20),
        )
        for leg in USUAL_ROUTE
    )


class Driver:
    """Pedals from where the vehicle is and where the leg wants it."""

    def __init__(self, route: Sequence[Leg]):
        self.route = tuple(route)
        self.ends = [sum(leg.seconds for leg in route[: place + 1]) for place in range(len(route))]
        self.throttle = 0.0
        self.brake = 0.3
        self._place = 0
        self._held = 0.0

    @property
    def seconds(self) -> float:
        """How long the route takes."""
        return self.ends[-1]

    def leg_at(self, time_s: float) -> Leg:
        """Give the leg that is driven; time goes only forward."""
        while self._place < len(self.ends) - 1 and time_s >= self.ends[self._place]:
            self._place += 1
            self._held = self.throttle if self.route[self._place].kmh else 0.0
        return self.route[self._place]

    def press(self, leg: Leg, kmh: float, tick_s: float) -> None:
        """Move the pedals for one tick.

        Args:
            kmh: road speed, unsigned.
        """
        most = leg.throttle_percent / 100
        if leg.brake is not None:
            wanted, brake = most, leg.brake
        elif leg.lever in (PARK, NEUTRAL):
            wanted, brake = 0.0, 0.3
        else:
            off = leg.kmh - kmh
            if leg.kmh and off > NEAR_KMH:
                wanted = most
                self._held = 0.4 * most
            else:
                self._held = min(max(self._held + PEDAL_PER_KMH_S * off * tick_s * 5, 0.0), most) if leg.kmh else 0.0
                wanted = min(max(self._held + PEDAL_PER_KMH * off, 0.0), most) if leg.kmh else 0.0
            brake = min(max(BRAKE_PER_KMH * (-off - NEAR_KMH), 0.0), MOST_BRAKE)
            if not leg.kmh:
                brake = STOP_BRAKE if kmh > LAST_KMH else LAST_BRAKE
        reach = PEDAL_RATE * tick_s
        self.throttle += min(max(wanted - self.throttle, -2 * reach), reach)
        self.brake += min(max(brake - self.brake, -3 * reach), 3 * reach)
