"""Draws layouts by algorithm 1 of docs/numbers/randomisation.md in plain Python, sharing no code with the crate.

    python3 draws.py > draws.json

The result is compared with the crate's draws in tests/randomisation.rs. Python 3, standard library only.
"""

import itertools
import json
import struct

MASK = 0xFFFFFFFF


def quarter_round(x, a, b, c, d):
    for first, second, third, turn in ((a, b, d, 16), (c, d, b, 12), (a, b, d, 8), (c, d, b, 7)):
        x[first] = (x[first] + x[second]) & MASK
        x[third] ^= x[first]
        x[third] = ((x[third] << turn) | (x[third] >> (32 - turn))) & MASK


def chacha20_words(key):
    """32-bit words of the key stream: 64-bit block counter from 0, 64-bit stream number 0 (RFC 8439 section 2.3 for the rounds)."""
    for counter in itertools.count():
        state = list(struct.unpack("<4I", b"expand 32-byte k")) + list(struct.unpack("<8I", key))
        state += [counter & MASK, counter >> 32, 0, 0]
        x = state[:]
        for _ in range(10):
            for column in ((0, 4, 8, 12), (1, 5, 9, 13), (2, 6, 10, 14), (3, 7, 11, 15)):
                quarter_round(x, *column)
            for diagonal in ((0, 5, 10, 15), (1, 6, 11, 12), (2, 7, 8, 13), (3, 4, 9, 14)):
                quarter_round(x, *diagonal)
        for value, start in zip(x, state):
            yield (value + start) & MASK


def below(words, bound):
    if bound <= 1:
        return 0
    while True:
        product = next(words) * bound
        if (product & MASK) >= (1 << 32) % bound:
            return product >> 32


def shuffle(words, items):
    for last in range(len(items) - 1, 0, -1):
        other = below(words, last + 1)
        items[last], items[other] = items[other], items[last]


def completely_random(words, plots_of, replicates):
    items = [treatment for treatment, plots in enumerate(plots_of) for _ in range(plots * replicates)]
    shuffle(words, items)
    return [items]


def randomised_blocks(words, plots_of, replicates):
    blocks = []
    for _ in range(replicates):
        blocks += completely_random(words, plots_of, 1)
    return blocks


def split_plot(words, levels, on_main_plot, replicates):
    """levels: number of levels of each factor; on_main_plot: index of each main-plot factor."""
    combinations = list(itertools.product(*(range(count) for count in levels)))
    groups = {}
    for treatment, combination in enumerate(combinations):
        groups.setdefault(tuple(combination[index] for index in on_main_plot), []).append(treatment)
    blocks = []
    for _ in range(replicates):
        main_plots = [list(within) for within in groups.values()]
        shuffle(words, main_plots)
        for within in main_plots:
            shuffle(words, within)
        blocks.append([treatment for within in main_plots for treatment in within])
    return blocks


def seed_of_number(number):
    return number.to_bytes(8, "little") + bytes(24)


counting = bytes(range(32))
cases = [
    ("completely random, 4 treatments x 3", seed_of_number(0),
     {"levels": [4], "controls": [], "arrangement": {"kind": "completely_random", "replicates": 3}},
     lambda words: completely_random(words, [1] * 4, 3)),
    ("completely random, 3 treatments and a control on 2 plots, x 2", seed_of_number(2026),
     {"levels": [3], "controls": [2], "arrangement": {"kind": "completely_random", "replicates": 2}},
     lambda words: completely_random(words, [1, 1, 1, 2], 2)),
    ("randomised blocks, 7 treatments x 4", seed_of_number(1),
     {"levels": [7], "controls": [], "arrangement": {"kind": "randomised_blocks", "replicates": 4}},
     lambda words: randomised_blocks(words, [1] * 7, 4)),
    ("randomised blocks, 2 x 3 factorial with two controls, x 3", counting,
     {"levels": [2, 3], "controls": [1, 2], "arrangement": {"kind": "randomised_blocks", "replicates": 3}},
     lambda words: randomised_blocks(words, [1] * 6 + [1, 2], 3)),
    ("split-plot, 3 on main plots, 4 within, x 6", seed_of_number(18446744073709551615),
     {"levels": [3, 4], "controls": [],
      "arrangement": {"kind": "split_plot", "replicates": 6, "main_plot_factors": ["f1"]}},
     lambda words: split_plot(words, [3, 4], [0], 6)),
    ("split-plot, the second and third of three factors on main plots, x 2", counting,
     {"levels": [3, 2, 2], "controls": [],
      "arrangement": {"kind": "split_plot", "replicates": 2, "main_plot_factors": ["f3", "f2"]}},
     lambda words: split_plot(words, [3, 2, 2], [1, 2], 2)),
]

print(json.dumps([{"name": name, "seed": seed.hex(), **plan, "replicates": run(chacha20_words(seed))}
                  for name, seed, plan, run in cases], indent=1))
