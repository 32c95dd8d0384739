"""Which checks can wait until the first work has failed."""

import numpy as np
import pytest
from support.planning import draw_model

