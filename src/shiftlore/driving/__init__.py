"""A simulated road test: a unit's gear train with engine, converter and vehicle around it, sound or with defects."""

from shiftlore.driving.driveable import Driveable, prepare_unit
from shiftlore.driving.happenings import DriveEvent
from shiftlore.driving.recording import Drive, DriveTruth, simulate_drive
from shiftlore.driving.road_vehicles import RoadVehicle
from shiftlore.driving.routes import USUAL_ROUTE, Leg, draw_route
from shiftlore.sheets import KINDS, DefectKind, DriveDefect, read_defect

__all__ = [
    "KINDS",
    "USUAL_ROUTE",
    "DefectKind",
    "Drive",
    "DriveDefect",
    "DriveEvent",
    "DriveTruth",
    "Driveable",
    "Leg",
    "RoadVehicle",
    "draw_route",
    "prepare_unit",
    "read_defect",
    "simulate_drive",
]
