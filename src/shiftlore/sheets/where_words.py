"""Which instances of a template a line can mean, by the kinds at its two ends.

The table is that of `knowledge/README.md`; `gearing` works the words out on a unit sheet.
"""

EACH = ("element", "solenoid", "gear", "shift", "pressure_switch", "speed_sensor")
"""What a rule may stand for once each."""
_FROM_NONE_TO_GEAR = ("any", "reverse", "forward", "first", "top", "lockup", "failsafe", "not_failsafe")
_IN_GEARS = ("any", "in_first", "in_reverse", "in_top", "in_lockup")
_FROM_NONE_TO_SHIFT = ("any", "up", "down", "first_up", "top_up")

# (each of the parent, each of the target) -> words allowed, the usual one first.
_WHERE: tuple[tuple[str | None, str | None, tuple[str, ...]], ...] = (
    (None, "gear", _FROM_NONE_TO_GEAR),
    (None, "shift", _FROM_NONE_TO_SHIFT),
    ("element", "gear", ("applied", "not_applied", "any", "lost")),
    ("element", "shift", ("coming_on", "going_off", "any")),
    ("solenoid", "element", ("controlled", "any")),
    ("solenoid", "gear", ("controlled", "lost_off", "lost_on", "any")),
    ("solenoid", "shift", ("switching", "any")),
    ("gear", "shift", ("into", "out_of", "any")),
    ("shift", "gear", ("into", "out_of", "any")),
    ("pressure_switch", "element", ("monitored", "any")),
    ("element", None, _IN_GEARS),
    ("solenoid", None, _IN_GEARS),
    ("gear", None, _IN_GEARS),
)
_TYPE = "type_"


def where_words(parent_each: str | None, target_each: str | None) -> tuple[str, ...]:
    """Name the `where` words of a line, the usual one first; none where neither end is a template.

    Args:
        parent_each, target_each: None or one of `EACH`.
    Example:
        >>> where_words("element", "gear")[0]
        'applied'
    """
    for parent, target, words in _WHERE:
        if (parent, target) == (parent_each, target_each):
            return words
    if parent_each is None and target_each is None:
        return ()
    return ("same", "any") if parent_each == target_each and parent_each in EACH else ("any",)


def is_where_word(word: str, parent_each: str | None, target_each: str | None) -> bool:
    """Tell whether a line between these kinds can say `where: word`.

    A template that leads to a single target may also be limited to instances of one type: ``type_output``.
    """
    if target_each is None and parent_each is not None and word.startswith(_TYPE):
        return True
    return word in where_words(parent_each, target_each)
