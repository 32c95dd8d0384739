"""What the records of knowledge and unit sheets are made of, and which numbers they may hold.

They are msgspec's structs: made, compared and read back from the cache by compiled code, for a start makes some thirty
thousand of them. All else is a dataclass.
"""

from typing import Annotated, Any, Self

from msgspec import Meta, Struct
from msgspec.structs import replace

MOST = 1e9
"""No number that a record holds is larger."""
Share = Annotated[float, Meta(ge=0.0, le=1.0)]
Signed = Annotated[float, Meta(ge=-MOST, le=MOST)]
Unsigned = Annotated[float, Meta(ge=0.0, le=MOST)]
Positive = Annotated[float, Meta(gt=0.0, le=MOST)]
Count = Annotated[int, Meta(ge=0, le=int(MOST))]
"""What a record's number may be; reading from the cache refuses others."""


class Record(Struct, frozen=True, array_like=True):
    """A record whose fields never change. At rest it is the list of their values."""

    def vary(self, **changes: Any) -> Self:
        """Give the same record with some fields changed."""
        return replace(self, **changes)
