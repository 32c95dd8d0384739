"""Read one stored trouble code, its meaning, and the finding that it answers."""

import re

from shiftlore.knowledge.intake import Intake
from shiftlore.knowledge.reading import Fields, Node, quoted
from shiftlore.knowledge.records import Code

# One letter for the system and four hexadecimal digits: the form of SAE J2012 and ISO 15031-6.
CODE_FORM = re.compile(r"[PBCU][0-3][0-9A-F]{3}")


def read_code(node: Node, intake: Intake) -> Code:
    """Read a code from its mapping."""
    fields = Fields(node, intake.problems, "code")
    code = fields.text("code")
    fields.named = code
    if code and not CODE_FORM.fullmatch(code):
        fields.add(
            fields.value_mark("code"),
            "015",
            f"{quoted(code)} is no trouble code",
            "Write a letter P, B, C or U and four digits in capitals, such as P0732.",
        )
    read = Code(
        code=code,
        means=fields.text("means"),
        finding=intake.noted_text(fields, "finding", ("code", code)),
        instance=fields.text("instance", None),
        mark=fields.value_mark("code"),
    )
    fields.text("source", None)
    fields.finish()
    return read
