"""The words of numbers, with their values."""

from __future__ import annotations

ONES = {
    w: n
    for n, w in enumerate(
        ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
    )
}
TEENS = {
    w: n
    for n, w in enumerate(
        [
            "ten",
            "eleven",
            "twelve",
            "thirteen",
            "fourteen",
            "fifteen",
            "sixteen",
            "seventeen",
            "eighteen",
            "nineteen",
        ],
        10,
    )
}
TENS = {
    w: n * 10
    for n, w in enumerate(
        ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"], 2
    )
} | {"fourty": 40}
SCALES = {"hundred": 100, "thousand": 1000, "million": 10**6, "billion": 10**9}
DENOMINATORS = {
    "half": 2, "halves": 2, "third": 3, "thirds": 3, "quarter": 4, "quarters": 4, "fourth": 4,
    "fourths": 4, "fifth": 5, "fifths": 5, "sixth": 6, "sixths": 6, "seventh": 7,
    "sevenths": 7, "eighth": 8, "eighths": 8, "ninth": 9, "ninths": 9, "tenth": 10,
    "tenths": 10, "twelfth": 12, "twelfths": 12, "sixteenth": 16, "sixteenths": 16,
    "hundredth": 100, "hundredths": 100,
}  # fmt: skip
ORDINAL_ONES = {
    w: n
    for n, w in enumerate(
        ["first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth"], 1
    )
}
ORDINALS = ORDINAL_ONES | {
    "tenth": 10, "eleventh": 11, "twelfth": 12, "thirteenth": 13, "fourteenth": 14,
    "fifteenth": 15, "sixteenth": 16, "seventeenth": 17, "eighteenth": 18, "nineteenth": 19,
    "twentieth": 20, "thirtieth": 30, "fortieth": 40, "fiftieth": 50,
}  # fmt: skip
SIGNS = {"minus": -1, "negative": -1, "plus": 1}
GLYPHS = {
    "½": 1 / 2, "⅓": 1 / 3, "⅔": 2 / 3, "¼": 1 / 4, "¾": 3 / 4, "⅛": 1 / 8, "⅜": 3 / 8,
    "⅝": 5 / 8, "⅞": 7 / 8, "⅕": 1 / 5,
}  # fmt: skip
CARDINALS = ONES | TEENS | TENS
