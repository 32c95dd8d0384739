"""Layouts of real kinds of automatics, from memory and textbooks: charts and printed ratios, mostly without teeth.

Source: from memory; generic textbook layouts (two sets with a common sun, crossed rings and carriers, two suns on one
ring, a simple set before those, sets in series, shafts side by side). Ratios are as manuals round them.
"""

from pathlib import Path

from shiftlore.gearing import UnitFacts, unit_facts
from shiftlore.sheets import load_sheet

UNITS = Path(__file__).parents[2] / "knowledge" / "units"

SIMPSON_3 = """
id: simpson3
label: Three speeds, two sets with a common sun, from memory
sets:
  front: {kind: simple}
  rear: {kind: simple}
joined:
- [front.sun, rear.sun]
- [front.carrier, rear.ring]
output: front.carrier
elements:
- {id: forward, type: clutch, between: [input, front.ring]}
- {id: direct, type: clutch, between: [input, front.sun]}
- {id: kickdown, type: band, holds: front.sun}
- {id: low_reverse, type: band, holds: rear.carrier}
- {id: overrun, type: one_way_clutch, holds: rear.carrier, lets: forward}
gears:
  1: {ratio: 2.45, on: [forward, overrun]}
  2: {ratio: 1.45, on: [forward, kickdown]}
  3: {ratio: 1.00, on: [forward, direct]}
  R: {ratio: 2.20, on: [direct, low_reverse]}
  N: {on: []}
ranges:
  1 held: {gear: 1, on: [forward, low_reverse, overrun]}
  2 held: {gear: 2, on: [forward, kickdown]}
"""

SIMPSON_OVERDRIVE_4 = """
id: simpson4
label: Four speeds, overdrive set before a common-sun pair, from memory
shafts: [middle, race]
sets:
  over: {kind: simple}
  front: {kind: simple}
  rear: {kind: simple}
joined:
- [over.ring, middle]
- [front.sun, rear.sun]
- [front.carrier, rear.ring]
input: over.carrier
output: front.carrier
elements:
- {id: c0, type: clutch, between: [over.carrier, over.sun]}
- {id: b0, type: brake, holds: over.sun}
- {id: f0, type: one_way_clutch, between: [over.carrier, over.sun]}
- {id: c1, type: clutch, between: [middle, front.ring]}
- {id: c2, type: clutch, between: [middle, front.sun]}
- {id: b1, type: band, holds: front.sun}
- {id: b2, type: brake, holds: race}
- {id: f1, type: one_way_clutch, between: [front.sun, race]}
- {id: b3, type: brake, holds: rear.carrier}
- {id: f2, type: one_way_clutch, holds: rear.carrier}
gears:
  1: {ratio: 2.804, on: [c0, f0, c1, f2]}
  2: {ratio: 1.531, on: [c0, f0, c1, b2, f1]}
  3: {ratio: 1.000, on: [c0, f0, c1, c2, b2]}
  4: {ratio: 0.705, on: [c1, c2, b0, b2]}
  R: {ratio: 2.393, on: [c0, f0, c2, b3]}
  P: {on: [c0]}
ranges:
  2 held: {gear: 2, on: [c0, f0, c1, b1, b2, f1]}
  L: {gear: 1, on: [c0, f0, c1, b3, f2]}
solenoids:
- {id: sol_1, type: on_off, code_letter: A, on_in: [1, 2]}
- {id: sol_2, type: on_off, code_letter: B, on_in: [2, 3]}
- {id: slu, type: tcc}
lockup_gears: [2, 3, 4]
"""

RAVIGNEAUX_4 = """
id: ravigneaux4
label: Four speeds, two suns and one ring, from memory
sets:
  main: {kind: ravigneaux}
output: main.ring
elements:
- {id: low, type: clutch, between: [input, main.small_sun]}
- {id: high, type: clutch, between: [input, main.carrier]}
- {id: reverse, type: clutch, between: [input, main.large_sun]}
- {id: band, type: band, holds: main.large_sun}
- {id: low_reverse, type: brake, holds: main.carrier}
- {id: low_one_way, type: one_way_clutch, holds: main.carrier}
gears:
  1: {ratio: 2.71, on: [low, low_one_way]}
  2: {ratio: 1.44, on: [low, band]}
  3: {ratio: 1.00, on: [low, high]}
  4: {ratio: 0.74, on: [high, band]}
  R: {ratio: 2.88, on: [reverse, low_reverse]}
ranges:
  1 held: {gear: 1, on: [low, low_reverse]}
"""

CROSSED_4 = """
id: crossed4
label: Four speeds, crossed rings and carriers, one-way clutch in the input, from memory
shafts: [race]
sets:
  input_set: {kind: simple}
  reaction: {kind: simple}
joined:
- [input_set.ring, reaction.carrier]
- [input_set.carrier, reaction.ring]
output: input_set.carrier
elements:
- {id: forward, type: clutch, between: [input, race]}
- {id: forward_one_way, type: one_way_clutch, between: [race, input_set.sun], lets: second_ahead}
- {id: overrun, type: clutch, between: [race, input_set.sun]}
- {id: third_fourth, type: clutch, between: [input, input_set.ring]}
- {id: reverse_input, type: clutch, between: [input, reaction.sun]}
- {id: second_fourth_band, type: band, holds: reaction.sun}
- {id: low_reverse, type: brake, holds: reaction.carrier}
- {id: low_one_way, type: one_way_clutch, holds: reaction.carrier}
gears:
  1: {ratio: 3.06, on: [forward, forward_one_way, low_one_way]}
  2: {ratio: 1.63, on: [forward, forward_one_way, second_fourth_band]}
  3: {ratio: 1.00, on: [forward, forward_one_way, third_fourth], coast: [overrun]}
  4: {ratio: 0.70, on: [forward, third_fourth, second_fourth_band]}
  R: {ratio: 2.29, on: [reverse_input, low_reverse]}
ranges:
  3 held: {gear: 3, on: [forward, forward_one_way, overrun, third_fourth]}
  2 held: {gear: 2, on: [forward, forward_one_way, overrun, second_fourth_band]}
  1 held: {gear: 1, on: [forward, forward_one_way, overrun, low_one_way, low_reverse]}
solenoids:
- {id: sol_a, type: on_off, code_letter: A, on_in: [1, 4]}
- {id: sol_b, type: on_off, code_letter: B, on_in: [1, 2]}
"""

CROSSED_BARE_4 = """
id: crossed_bare4
label: Four speeds, crossed rings and carriers, clutches and brakes only, from memory
sets:
  front: {kind: simple}
  rear: {kind: simple}
joined:
- [front.carrier, rear.ring]
- [front.ring, rear.carrier]
output: rear.carrier
elements:
- {id: underdrive, type: clutch, between: [input, rear.sun]}
- {id: overdrive, type: clutch, between: [input, front.carrier]}
- {id: reverse, type: clutch, between: [input, front.sun]}
- {id: second_fourth, type: brake, holds: front.sun}
- {id: low_reverse, type: brake, holds: front.carrier}
gears:
  1: {ratio: 2.84, on: [underdrive, low_reverse]}
  2: {ratio: 1.57, on: [underdrive, second_fourth]}
  3: {ratio: 1.00, on: [underdrive, overdrive]}
  4: {ratio: 0.69, on: [overdrive, second_fourth]}
  R: {ratio: 2.21, on: [reverse, low_reverse]}
"""

SPLIT_INPUT_4 = """
id: split4
label: Four speeds, two suns and one ring, direct shaft past the converter, from memory
shafts: [race]
sets:
  main: {kind: ravigneaux}
output: main.ring
elements:
- {id: forward, type: clutch, between: [input, main.small_sun]}
- {id: direct, type: clutch, between: [engine, main.carrier]}
- {id: reverse, type: clutch, between: [input, main.large_sun]}
- {id: intermediate, type: brake, holds: race}
- {id: intermediate_one_way, type: one_way_clutch, between: [main.large_sun, race]}
- {id: overdrive_band, type: band, holds: main.large_sun}
- {id: low_band, type: band, holds: main.carrier}
- {id: low_one_way, type: one_way_clutch, holds: main.carrier}
gears:
  1: {ratio: 2.40, on: [forward, low_one_way]}
  2: {ratio: 1.47, on: [forward, intermediate, intermediate_one_way]}
  3: {ratio: 1.00, on: [forward, direct, intermediate]}
  4: {ratio: 0.67, on: [direct, overdrive_band, intermediate]}
  R: {ratio: 2.00, on: [reverse, low_band]}
ranges:
  1 held: {gear: 1, on: [forward, low_band]}
"""

SERIES_5 = """
id: series5
label: Five speeds, three simple sets in series, two reverse gears, from memory
sets:
  front: {kind: simple}
  middle: {kind: simple}
  rear: {kind: simple}
joined:
- [front.carrier, rear.ring]
- [rear.carrier, middle.ring]
input: front.ring
output: middle.carrier
elements:
- {id: k1, type: clutch, between: [front.sun, front.carrier]}
- {id: k2, type: clutch, between: [input, rear.carrier]}
- {id: k3, type: clutch, between: [rear.sun, middle.sun]}
- {id: b1, type: brake, holds: front.sun}
- {id: b2, type: brake, holds: middle.sun}
- {id: b3, type: brake, holds: rear.carrier}
- {id: f1, type: one_way_clutch, holds: front.sun}
- {id: f2, type: one_way_clutch, between: [rear.sun, middle.sun]}
gears:
  1: {ratio: 3.59, on: [b2, f1, f2], coast: [b1, k3]}
  2: {ratio: 2.19, on: [k1, b2, f2], coast: [k3]}
  3: {ratio: 1.41, on: [k1, k2, b2]}
  4: {ratio: 1.00, on: [k1, k2, k3]}
  5: {ratio: 0.83, on: [k2, k3, b1]}
  R1: {ratio: 3.16, on: [k3, b3, f1], coast: [b1]}
  R2: {ratio: 1.93, on: [k1, k3, b3]}
solenoids:
- {id: sol_12, type: on_off, controls: [k1], unpowered: releases}
failsafe_gear: 2
"""

LEPELLETIER_6 = """
id: lepelletier6
label: Six speeds, simple set before two suns and one ring, from memory
sets:
  front: {kind: simple}
  rear: {kind: ravigneaux}
held: front.sun
input: front.ring
output: rear.ring
elements:
- {id: a, type: clutch, between: [front.carrier, rear.small_sun]}
- {id: b, type: clutch, between: [front.carrier, rear.large_sun]}
- {id: e, type: clutch, between: [input, rear.carrier]}
- {id: c, type: brake, holds: rear.large_sun}
- {id: d, type: brake, holds: rear.carrier}
gears:
  1: {ratio: 4.17, on: [a, d]}
  2: {ratio: 2.34, on: [a, c]}
  3: {ratio: 1.52, on: [a, b]}
  4: {ratio: 1.14, on: [a, e]}
  5: {ratio: 0.87, on: [b, e]}
  6: {ratio: 0.69, on: [e, c]}
  R: {ratio: 3.40, on: [b, d]}
"""

LEPELLETIER_HALVES_6 = """
id: halves6
label: Six speeds, the rear set written as its two halves, from memory
sets:
  front: {kind: simple}
  large: {kind: simple}
  small: {kind: double_pinion}
joined:
- [large.carrier, small.carrier]
- [large.ring, small.ring]
held: front.sun
input: front.ring
output: large.ring
elements:
- {id: a, type: clutch, between: [front.carrier, small.sun]}
- {id: b, type: clutch, between: [front.carrier, large.sun]}
- {id: e, type: clutch, between: [input, large.carrier]}
- {id: c, type: brake, holds: large.sun}
- {id: d, type: brake, holds: large.carrier}
gears:
  1: {ratio: 4.17, on: [a, d]}
  2: {ratio: 2.34, on: [a, c]}
  3: {ratio: 1.52, on: [a, b]}
  4: {ratio: 1.14, on: [a, e]}
  5: {ratio: 0.87, on: [b, e]}
  6: {ratio: 0.69, on: [e, c]}
  R: {ratio: 3.40, on: [b, d]}
"""

THREE_SIMPLE_6 = """
id: heavy6
label: Six speeds for heavy vehicles, three simple sets, five elements, from memory
sets:
  one: {kind: simple}
  two: {kind: simple}
  three: {kind: simple}
joined:
- [two.sun, three.sun]
- [one.carrier, two.ring]
- [two.carrier, three.ring]
input: one.sun
output: three.carrier
elements:
- {id: c1, type: clutch, between: [input, two.sun]}
- {id: c2, type: clutch, between: [input, two.carrier]}
- {id: c3, type: brake, holds: one.ring}
- {id: c4, type: brake, holds: two.ring}
- {id: c5, type: brake, holds: three.ring}
gears:
  1: {ratio: 3.49, on: [c1, c5]}
  2: {ratio: 1.86, on: [c1, c4]}
  3: {ratio: 1.41, on: [c1, c3]}
  4: {ratio: 1.00, on: [c1, c2]}
  5: {ratio: 0.75, on: [c2, c3]}
  6: {ratio: 0.65, on: [c2, c4]}
  R: {ratio: 5.03, on: [c3, c5]}
"""

TWO_FRONT_SPEEDS_8 = """
id: double8
label: Eight speeds, double-pinion set before two suns and one ring, two reverse gears, from memory
sets:
  front: {kind: double_pinion}
  rear: {kind: ravigneaux}
held: front.sun
input: front.carrier
output: rear.ring
elements:
- {id: c1, type: clutch, between: [front.ring, rear.small_sun]}
- {id: c2, type: clutch, between: [input, rear.carrier]}
- {id: c3, type: clutch, between: [front.ring, rear.large_sun]}
- {id: c4, type: clutch, between: [input, rear.large_sun]}
- {id: b1, type: brake, holds: rear.large_sun}
- {id: b2, type: brake, holds: rear.carrier}
- {id: f1, type: one_way_clutch, holds: rear.carrier}
gears:
  1: {ratio: 4.596, on: [c1, f1], coast: [b2]}
  2: {ratio: 2.724, on: [c1, b1]}
  3: {ratio: 1.863, on: [c1, c3]}
  4: {ratio: 1.464, on: [c1, c4]}
  5: {ratio: 1.231, on: [c1, c2]}
  6: {ratio: 1.000, on: [c2, c4]}
  7: {ratio: 0.824, on: [c2, c3]}
  8: {ratio: 0.685, on: [c2, b1]}
  R1: {ratio: 4.056, on: [c3, b2]}
  R2: {ratio: 2.176, on: [c4, b2]}
"""

FOUR_SETS_8 = """
id: four8
label: Eight speeds, four simple sets, three of five elements on, from memory
sets:
  p1: {kind: simple}
  p2: {kind: simple}
  p3: {kind: simple}
  p4: {kind: simple}
joined:
- [p1.sun, p2.sun]
- [p1.carrier, p4.ring]
- [p2.ring, p3.sun]
- [p3.ring, p4.sun]
input: p2.carrier
output: p4.carrier
elements:
- {id: a, type: brake, holds: p1.sun}
- {id: b, type: brake, holds: p1.ring}
- {id: c, type: clutch, between: [input, p4.sun]}
- {id: d, type: clutch, between: [p3.carrier, output]}
- {id: e, type: clutch, between: [p3.sun, p3.ring]}
gears:
  1: {ratio: 4.70, on: [a, b, c]}
  2: {ratio: 3.13, on: [a, b, e]}
  3: {ratio: 2.10, on: [b, c, e]}
  4: {ratio: 1.67, on: [b, d, e]}
  5: {ratio: 1.29, on: [b, c, d]}
  6: {ratio: 1.00, on: [c, d, e]}
  7: {ratio: 0.84, on: [a, c, d]}
  8: {ratio: 0.67, on: [a, d, e]}
  R: {ratio: 3.30, on: [a, b, d]}
"""

SPLITTER_10 = """
id: splitter10
label: Ten speeds, a splitter set before five speeds, constructed
shafts: [middle]
sets:
  split: {kind: simple, teeth: {sun: 31, ring: 81}}
  front: {kind: simple, ring_to_sun: 1.83}
  middle_set: {kind: simple}
  rear: {kind: simple}
joined:
- [split.carrier, middle]
- [front.carrier, rear.ring]
- [rear.carrier, middle_set.ring]
- [middle, front.ring]
input: split.ring
output: middle_set.carrier
elements:
- {id: d, type: clutch, between: [split.sun, split.carrier]}
- {id: s, type: brake, holds: split.sun}
- {id: k1, type: clutch, between: [front.sun, front.carrier]}
- {id: k2, type: clutch, between: [middle, rear.carrier]}
- {id: k3, type: clutch, between: [rear.sun, middle_set.sun]}
- {id: b1, type: brake, holds: front.sun}
- {id: b2, type: brake, holds: middle_set.sun}
- {id: b3, type: brake, holds: rear.carrier}
gears:
  1: {ratio: 4.68, on: [s, b1, k3, b2]}
  2: {ratio: 3.38, on: [d, b1, k3, b2]}
  3: {ratio: 3.02, on: [s, k1, k3, b2]}
  4: {ratio: 2.19, on: [d, k1, k3, b2]}
  5: {ratio: 1.95, on: [s, k1, k2, b2]}
  6: {ratio: 1.41, on: [d, k1, k2, b2]}
  7: {ratio: 1.38, on: [s, k1, k2, k3]}
  8: {ratio: 1.15, on: [s, b1, k2, k3]}
  9: {ratio: 1.00, on: [d, k1, k2, k3]}
  10: {ratio: 0.834, on: [d, b1, k2, k3]}
  R1: {on: [s, b1, k3, b3]}
  R2: {on: [d, k1, k3, b3]}
"""

SHAFTS_4 = """
id: shafts4
label: Four speeds on two shafts, no tooth counts, from memory
shafts: [hub]
sets:
  first: {kind: pair}
  second: {kind: pair}
  third: {kind: pair}
  fourth: {kind: pair}
  reverse: {kind: pair, idler: yes}
joined:
- [hub, fourth.drive, reverse.drive]
- [output, second.driven, third.driven]
elements:
- {id: c1, label: First clutch, type: clutch, between: [input, first.drive]}
- {id: c2, label: Second clutch, type: clutch, between: [input, second.drive]}
- {id: c3, label: Third clutch, type: clutch, between: [input, third.drive]}
- {id: c4, label: Fourth clutch, type: clutch, between: [input, hub]}
- {id: f1, label: One-way clutch, type: one_way_clutch, between: [first.driven, output]}
- {id: d4, label: Fourth selector, type: dog, between: [fourth.driven, output]}
- {id: dr, label: Reverse selector, type: dog, between: [reverse.driven, output]}
gears:
  1: {ratio: 2.53, on: [c1, f1, d4]}
  2: {ratio: 1.43, on: [c1, c2, d4]}
  3: {ratio: 0.92, on: [c1, c3, d4]}
  4: {ratio: 0.67, on: [c1, c4, d4]}
  R: {ratio: 1.95, on: [c4, dr]}
  N: {on: [d4]}
"""

SHAFTS_5 = """
id: shafts5
label: Five speeds on three shafts with tooth counts, final drive inside, constructed
shafts: [second_shaft, counter]
sets:
  idle: {kind: chain, teeth: {drive: 43, driven: 43}}
  first: {kind: pair, teeth: {drive: 16, driven: 43}}
  second: {kind: pair, teeth: {drive: 22, driven: 37}}
  third: {kind: pair, teeth: {drive: 28, driven: 34}}
  fourth: {kind: pair, teeth: {drive: 34, driven: 29}}
  fifth: {kind: pair, teeth: {drive: 39, driven: 26}}
  reverse: {kind: pair, idler: yes, teeth: {drive: 21, driven: 40}}
  final: {kind: pair, teeth: {drive: 14, driven: 57}}
joined:
- [input, idle.drive]
- [second_shaft, idle.driven]
- [counter, first.driven, second.driven, third.driven, final.drive]
- [fourth.drive, reverse.drive]
output: final.driven
elements:
- {id: c1, type: clutch, between: [second_shaft, first.drive]}
- {id: c2, type: clutch, between: [second_shaft, second.drive]}
- {id: c3, type: clutch, between: [second_shaft, third.drive]}
- {id: c4, type: clutch, between: [input, fourth.drive]}
- {id: c5, type: clutch, between: [input, fifth.drive]}
- {id: d4, type: dog, between: [fourth.driven, counter]}
- {id: d5, type: dog, between: [fifth.driven, counter]}
- {id: dr, type: dog, between: [reverse.driven, counter]}
gears:
  1: {ratio: 10.94, on: [c1]}
  2: {ratio: 6.85, on: [c2]}
  3: {ratio: 4.94, on: [c3]}
  4: {ratio: 3.47, on: [c4, d4]}
  5: {ratio: 2.71, on: [c5, d5]}
  R: {ratio: 7.76, on: [c4, dr]}
"""

TWO_SUNS_3 = """
id: two_suns3
label: Three speeds, two suns and one ring, from memory
sets:
  main: {kind: ravigneaux}
output: main.ring
elements:
- {id: front_clutch, type: clutch, between: [input, main.small_sun]}
- {id: rear_clutch, type: clutch, between: [input, main.large_sun]}
- {id: front_band, type: band, holds: main.large_sun}
- {id: rear_band, type: band, holds: main.carrier}
- {id: one_way, type: one_way_clutch, holds: main.carrier}
gears:
  1: {ratio: 2.39, on: [front_clutch, one_way]}
  2: {ratio: 1.45, on: [front_clutch, front_band]}
  3: {ratio: 1.00, on: [front_clutch, rear_clutch]}
  R: {ratio: 2.09, on: [rear_clutch, rear_band]}
"""

CYCLE_6 = """
id: cycle6
label: Six speeds, three simple sets with every ring on the next carrier, from memory
sets:
  o: {kind: simple}
  i: {kind: simple}
  r: {kind: simple}
joined:
- [o.ring, i.carrier]
- [i.ring, r.carrier]
- [r.ring, o.carrier]
input: i.sun
output: o.carrier
elements:
- {id: c1234, type: brake, holds: o.sun}
- {id: c26, type: brake, holds: r.sun}
- {id: c35r, type: clutch, between: [input, r.sun]}
- {id: c456, type: clutch, between: [input, r.carrier]}
- {id: lr, type: brake, holds: r.carrier}
- {id: owc, type: one_way_clutch, holds: r.carrier}
gears:
  1: {ratio: 4.584, on: [c1234, owc], coast: [lr]}
  2: {ratio: 2.964, on: [c1234, c26]}
  3: {ratio: 1.912, on: [c1234, c35r]}
  4: {ratio: 1.446, on: [c1234, c456]}
  5: {ratio: 1.000, on: [c35r, c456]}
  6: {ratio: 0.746, on: [c26, c456]}
  R: {ratio: 2.943, on: [c35r, lr]}
"""

TWO_RINGS_7 = """
id: rings7
label: Seven speeds, a set with two rings before two simple sets, two reverse gears, from memory
sets:
  first: {kind: ravigneaux}
  front: {kind: simple}
  rear: {kind: simple}
joined:
- [first.carrier, front.ring]
- [front.carrier, rear.ring]
input: first.ring
output: rear.carrier
elements:
- {id: k1, type: clutch, between: [first.carrier, first.large_sun]}
- {id: k2, type: clutch, between: [input, front.carrier]}
- {id: k3, type: clutch, between: [front.sun, rear.sun]}
- {id: b1, type: brake, holds: first.large_sun}
- {id: b2, type: brake, holds: rear.sun}
- {id: b3, type: brake, holds: first.second_ring}
- {id: br, type: brake, holds: front.carrier}
gears:
  1: {ratio: 4.377, on: [b3, b2, k3]}
  2: {ratio: 2.859, on: [b1, b2, k3]}
  3: {ratio: 1.921, on: [k1, b2, k3]}
  4: {ratio: 1.368, on: [k1, k2, b2]}
  5: {ratio: 1.000, on: [k1, k2, k3]}
  6: {ratio: 0.820, on: [b1, k2, k3]}
  7: {ratio: 0.728, on: [b3, k2, k3]}
  R: {ratio: 3.416, on: [b3, br, k3]}
  R2: {ratio: 2.231, on: [b1, br, k3]}
"""

CHART_ONLY_4 = """
id: chart4
label: Four speeds, chart and ratios only, from memory
elements:
- {id: forward, type: clutch}
- {id: direct, type: clutch}
- {id: overdrive, type: clutch}
- {id: reverse, type: clutch}
- {id: intermediate, type: band}
- {id: low_reverse, type: brake}
- {id: low_one_way, type: one_way_clutch}
gears:
  1: {ratio: 2.77, on: [forward, low_one_way]}
  2: {ratio: 1.54, on: [forward, intermediate]}
  3: {ratio: 1.00, on: [forward, direct]}
  4: {ratio: 0.69, on: [overdrive, intermediate]}
  R: {ratio: 2.32, on: [reverse, low_reverse]}
"""

SIMPSON_REAR_OVERDRIVE_4 = """
id: simpson_rear4
label: Four speeds, overdrive set behind a common-sun pair, from memory
sets:
  front: {kind: simple}
  rear: {kind: simple}
  od: {kind: simple}
joined:
- [front.sun, rear.sun]
- [front.carrier, rear.ring, od.carrier]
output: od.ring
elements:
- {id: fwd, type: clutch, between: [input, front.ring]}
- {id: direct, type: clutch, between: [input, front.sun]}
- {id: kd, type: band, holds: front.sun}
- {id: lr, type: band, holds: rear.carrier}
- {id: owc, type: one_way_clutch, holds: rear.carrier}
- {id: odc, label: Overdrive clutch, type: brake, holds: od.sun}
- {id: oddir, label: Overdrive direct clutch, type: clutch, between: [od.sun, od.ring]}
- {id: odowc, label: Overdrive one-way clutch, type: one_way_clutch, between: [od.carrier, od.ring], lets: second_ahead}
gears:
  1: {ratio: 2.74, on: [fwd, owc, oddir, odowc], coast: [lr]}
  2: {ratio: 1.54, on: [fwd, kd, oddir, odowc]}
  3: {ratio: 1.00, on: [fwd, direct, oddir, odowc]}
  4: {ratio: 0.69, on: [fwd, direct, odc]}
  R: {ratio: 2.21, on: [direct, lr, oddir]}
"""

SIMPSON_OVERDRIVE_5 = """
id: simpson5
label: Five speeds, overdrive set in front used twice, from memory
sets:
  od: {kind: simple}
  front: {kind: simple}
  rear: {kind: simple}
joined:
- [front.sun, rear.sun]
- [front.carrier, rear.ring]
input: od.carrier
output: rear.ring
elements:
- {id: odb, label: Overdrive band, type: band, holds: od.sun}
- {id: odf, type: one_way_clutch, between: [od.carrier, od.ring]}
- {id: coastc, label: Coast clutch, type: clutch, between: [od.carrier, od.sun]}
- {id: fwd, type: clutch, between: [od.ring, front.ring]}
- {id: direct, type: clutch, between: [od.ring, front.sun]}
- {id: imb, label: Intermediate band, type: band, holds: front.sun}
- {id: lrb, type: band, holds: rear.carrier}
- {id: lowf, type: one_way_clutch, holds: rear.carrier}
gears:
  1: {ratio: 2.47, on: [fwd, odf, lowf], coast: [coastc, lrb]}
  2: {ratio: 1.86, on: [fwd, odb, lowf], coast: [lrb]}
  3: {ratio: 1.47, on: [fwd, imb, odf], coast: [coastc]}
  4: {ratio: 1.00, on: [fwd, direct, odf], coast: [coastc]}
  5: {ratio: 0.75, on: [fwd, direct, odb]}
  R: {ratio: 2.10, on: [direct, lrb, odf], coast: [coastc]}
solenoids:
- {id: ssa, type: on_off, code_letter: A, on_in: [1, 3, 4, R]}
- {id: ssb, type: on_off, code_letter: B, on_in: [3]}
- {id: ssc, type: on_off, code_letter: C, on_in: [4, 5]}
- {id: ssd, type: on_off, code_letter: D, on_in: [2, 5]}
failsafe_gear: 5
"""

CROSSED_FED_4 = """
id: crossed_fed4
label: Four speeds, crossed rings and carriers, a solenoid for each element, from memory
sets:
  front: {kind: simple}
  rear: {kind: simple}
joined:
- [front.carrier, rear.ring]
- [front.ring, rear.carrier]
output: front.carrier
elements:
- {id: ud, type: clutch, between: [input, front.sun], fed_in: forward}
- {id: od, type: clutch, between: [input, rear.carrier]}
- {id: rev, type: clutch, between: [input, rear.sun]}
- {id: b24, type: brake, holds: rear.sun, fed_in: forward}
- {id: lr, type: brake, holds: rear.carrier}
gears:
  1: {ratio: 2.84, on: [ud, lr]}
  2: {ratio: 1.57, on: [ud, b24]}
  3: {ratio: 1.00, on: [ud, od]}
  4: {ratio: 0.69, on: [od, b24]}
  R: {ratio: 2.21, on: [rev, lr]}
  N: {on: [lr]}
  P: {on: [lr]}
solenoids:
- {id: uds, type: on_off, controls: [ud], unpowered: applies}
- {id: ods, type: on_off, controls: [od], unpowered: releases}
- {id: s24, type: on_off, controls: [b24], unpowered: applies}
- {id: lrs, type: on_off, controls: [lr], unpowered: releases}
failsafe_gear: 2
speed_sensors:
- {id: tss, label: Input speed sensor, type: input}
- {id: oss, label: Output speed sensor, type: output}
"""

CROSSED_SERIAL_4 = """
id: crossed_serial4
label: Four speeds, crossed sets, forward clutch with one-way and overrun clutch, from memory
shafts: [hub]
sets:
  front: {kind: simple}
  rear: {kind: simple}
joined:
- [front.ring, rear.carrier]
input: rear.sun
output: rear.carrier
elements:
- {id: revc, type: clutch, between: [input, front.sun]}
- {id: high, type: clutch, between: [input, front.carrier]}
- {id: fwd, type: clutch, between: [front.carrier, hub]}
- {id: fwdf, type: one_way_clutch, between: [hub, rear.ring]}
- {id: over, type: clutch, between: [front.carrier, rear.ring]}
- {id: band, type: band, holds: front.sun}
- {id: lr, type: brake, holds: front.carrier}
- {id: lowf, type: one_way_clutch, holds: front.carrier}
gears:
  1: {ratio: 2.785, on: [fwd, fwdf, lowf], coast: [over, lr]}
  2: {ratio: 1.545, on: [fwd, fwdf, band], coast: [over]}
  3: {ratio: 1.000, on: [fwd, fwdf, high], coast: [over]}
  4: {ratio: 0.694, on: [fwd, high, band]}
  R: {ratio: 2.272, on: [revc, lr]}
solenoids:
- {id: a, type: on_off, code_letter: A, on_in: [1, 4]}
- {id: b, type: on_off, code_letter: B, on_in: [1, 2]}
- {id: ovs, label: Overrun clutch solenoid, type: on_off, controls: [over], unpowered: applies}
failsafe_gear: 3
"""

TWO_SUNS_REAR_5 = """
id: two_suns_rear5
label: Five speeds, two suns on one ring and a rear set, from memory
sets:
  main: {kind: ravigneaux}
  rear: {kind: simple}
joined:
- [main.ring, rear.ring]
output: rear.carrier
elements:
- {id: a, type: clutch, between: [input, main.small_sun]}
- {id: b, type: clutch, between: [input, main.carrier]}
- {id: d, type: clutch, between: [input, main.large_sun]}
- {id: c, type: brake, holds: main.large_sun}
- {id: lr, type: brake, holds: main.carrier}
- {id: fl, type: one_way_clutch, holds: main.carrier}
- {id: f, type: clutch, between: [rear.sun, rear.carrier]}
- {id: g, type: brake, holds: rear.sun}
gears:
  1: {ratio: 3.67, on: [a, fl, g], coast: [lr]}
  2: {ratio: 2.00, on: [a, c, g]}
  3: {ratio: 1.41, on: [a, c, f]}
  4: {ratio: 1.00, on: [a, b, f]}
  5: {ratio: 0.74, on: [b, c, f]}
  R: {ratio: 4.10, on: [d, lr, g]}
failsafe_gear: 4
"""

COUNTER_5 = """
id: counter5
label: Five speeds, two sets and a reduction set on the counter shaft, from memory
sets:
  front: {kind: simple}
  rear: {kind: simple}
  transfer: {kind: pair, ratio: 1.0}
  red: {kind: simple}
joined:
- [front.carrier, rear.ring, transfer.drive]
- [front.ring, rear.carrier]
- [transfer.driven, red.ring]
output: red.carrier
elements:
- {id: ud, type: clutch, between: [input, front.sun]}
- {id: od, type: clutch, between: [input, rear.carrier]}
- {id: rev, type: clutch, between: [input, rear.sun]}
- {id: sec, label: Second brake, type: brake, holds: rear.sun}
- {id: lr, type: brake, holds: rear.carrier}
- {id: owc1, type: one_way_clutch, holds: rear.carrier}
- {id: redb, label: Reduction brake, type: band, holds: red.sun}
- {id: owc2, type: one_way_clutch, holds: red.sun}
- {id: dir, label: Direct clutch, type: clutch, between: [red.sun, red.carrier]}
gears:
  1: {ratio: 3.789, on: [ud, owc1, redb, owc2], coast: [lr]}
  2: {ratio: 2.057, on: [ud, sec, redb, owc2]}
  3: {ratio: 1.421, on: [ud, od, redb, owc2]}
  4: {ratio: 1.000, on: [ud, od, dir]}
  5: {ratio: 0.731, on: [od, sec, dir]}
  R: {ratio: 3.870, on: [rev, lr, redb]}
"""

TWO_SUNS_2 = """
id: two_suns2
label: Two speeds, two suns and a second ring, from memory
sets:
  g: {kind: ravigneaux}
input: g.large_sun
output: g.carrier
elements:
- {id: high, type: clutch, between: [input, g.small_sun]}
- {id: low, type: band, holds: g.small_sun}
- {id: rev, type: brake, holds: g.second_ring}
gears:
  1: {ratio: 1.82, on: [low]}
  2: {ratio: 1.00, on: [high]}
  R: {ratio: 1.82, on: [rev]}
"""


LAYOUTS = {
    name.lower(): text
    for name, text in list(globals().items())
    if name.isupper() and isinstance(text, str) and not name.startswith("_")
}


def facts_of(name: str) -> UnitFacts:
    """Give what a layout, or a unit that came with the program, says to the rules."""
    return unit_facts(load_sheet(LAYOUTS[name] if name in LAYOUTS else UNITS / f"{name}.yaml"))
