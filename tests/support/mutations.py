"""Spoil a text the way hands, editors and transfers spoil files."""

import random

NASTY = ["no", "off", "1:30", "010", "1e3", "3.10", "~", "*x", "&x 1", "!!int 3", "<<", "[", "{", "- ", ": ", "#", "'"]
NASTY += ['"', "\t", "\x00", "\ufeff", "\u202e", "\x85", "---", "...", "? ", "| ", "9" * 21, "-1", ".nan", "[[[[[["]


def mutate(text, dice):
    """Change a text in one to three places, reproducibly for a seeded `random.Random`."""
    for _ in range(dice.randint(1, 3)):
        text = dice.choice(CHANGES)(text, dice)
    return text


def delete_line(text, dice):
    lines = text.split("\n")
    del lines[dice.randrange(len(lines))]
    return "\n".join(lines)


def double_line(text, dice):
    lines = text.split("\n")
    place = dice.randrange(len(lines))
    return "\n".join([*lines[:place], lines[place], *lines[place:]])


def swap_lines(text, dice):
    lines = text.split("\n")
    one, two = dice.randrange(len(lines)), dice.randrange(len(lines))
    lines[one], lines[two] = lines[two], lines[one]
    return "\n".join(lines)


def indent_line(text, dice):
    lines = text.split("\n")
    place = dice.randrange(len(lines))
    lines[place] = " " * dice.randint(1, 4) + lines[place] if dice.random() < 0.6 else lines[place].lstrip()
    return "\n".join(lines)


def random_character(text, dice):
    place = dice.randrange(len(text) + 1)
    return text[:place] + chr(dice.choice([dice.randrange(32, 127), dice.randrange(0, 0x250)])) + text[place + 1 :]


def misspell(text, dice):
    """Drop, double or change one letter of a key or word."""
    places = [place for place, letter in enumerate(text) if letter.isalpha()]
    if not places:
        return text
    place = dice.choice(places)
    return text[:place] + dice.choice(["", text[place] * 2, dice.choice("abcxyz_")]) + text[place + 1 :]


def nasty_piece(text, dice):
    place = dice.randrange(len(text) + 1)
    return text[:place] + dice.choice(NASTY) + text[place + dice.choice([0, 0, 3]) :]


def replace_value(text, dice):
    lines = text.split("\n")
    place = dice.randrange(len(lines))
    key, colon, _ = lines[place].partition(": ")
    lines[place] = key + colon + dice.choice(NASTY) if colon else lines[place]
    return "\n".join(lines)


def add_key(text, dice):
    lines = text.split("\n")
    place = dice.randrange(len(lines))
    space = len(lines[place]) - len(lines[place].lstrip())
    lines.insert(
        place, " " * space + dice.choice(["colour: red", "odometer: 5", "ID: x", "sources: y", "extra: [1, 2]"])
    )
    return "\n".join(lines)


def cut_off(text, dice):
    return text[: dice.randrange(len(text) + 1)]


CHANGES = [delete_line, double_line, swap_lines, indent_line, random_character, misspell, nasty_piece]
CHANGES += [replace_value, add_key, cut_off]


def spoiled(text, seed, count):
    """Give `count` spoiled texts."""
    dice = random.Random(seed)
    for _ in range(count):
        yield mutate(text, dice)
