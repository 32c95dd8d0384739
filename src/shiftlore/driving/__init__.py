"""A simulated road test: a unit's gear train with engine, converter and vehicle around it, sound or with defects."""

from shiftlore.driving.driveable import prepare_unit
from shiftlore.driving.recording import Drive, simulate_drive
from shiftlore.driving.routes import draw_route
from shiftlore.sheets import KINDS, DriveDefect, read_defect
