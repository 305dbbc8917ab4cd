"""Sizes of the unit table's units by Pint, a general-purpose unit library, for tests/unit_reference.rs.

Run with Pint 0.25.3: python unit_factors.py > unit_factors.csv
Pint's own `acre` is the US survey acre, retired in 2022; the international acre is written as 4840 square yards.
Columns: symbol, canonical unit of the table, the canonical value of 1 and of 100 of the unit.
"""

import csv
import sys

import pint

units = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
AC = "(4840 * yard**2)"
WINCHESTER = "(2150.42 * inch**3)"
IMPERIAL_BUSHEL = "(8 * imperial_gallon)"

ROWS = [
    ("mg", "kg", "milligram", "kilogram"),
    ("g", "kg", "gram", "kilogram"),
    ("t", "kg", "metric_ton", "kilogram"),
    ("lb", "kg", "pound", "kilogram"),
    ("oz (mass)", "kg", "ounce", "kilogram"),
    ("cwt", "kg", "hundredweight", "kilogram"),
    ("short ton", "kg", "short_ton", "kilogram"),
    ("mm", "m", "millimeter", "meter"),
    ("cm", "m", "centimeter", "meter"),
    ("km", "m", "kilometer", "meter"),
    ("in", "m", "inch", "meter"),
    ("ft", "m", "foot", "meter"),
    ("yd", "m", "yard", "meter"),
    ("mi", "m", "mile", "meter"),
    ("cm2", "m2", "centimeter**2", "meter**2"),
    ("ha", "m2", "hectare", "meter**2"),
    ("ft2", "m2", "foot**2", "meter**2"),
    ("ac", "m2", AC, "meter**2"),
    ("mL", "L", "milliliter", "liter"),
    ("hL", "L", "hectoliter", "liter"),
    ("m3", "L", "meter**3", "liter"),
    ("US gal", "L", "gallon", "liter"),
    ("US qt", "L", "quart", "liter"),
    ("US pt", "L", "pint", "liter"),
    ("US fl oz", "L", "US_fluid_ounce", "liter"),
    ("imp gal", "L", "imperial_gallon", "liter"),
    ("imp qt", "L", "imperial_quart", "liter"),
    ("imp pt", "L", "imperial_pint", "liter"),
    ("imp fl oz", "L", "imperial_fluid_ounce", "liter"),
    ("t/ha", "kg/ha", "metric_ton/hectare", "kilogram/hectare"),
    ("g/ha", "kg/ha", "gram/hectare", "kilogram/hectare"),
    ("g/m2", "kg/ha", "gram/meter**2", "kilogram/hectare"),
    ("kg/m2", "kg/ha", "kilogram/meter**2", "kilogram/hectare"),
    ("lb/ac", "kg/ha", f"pound/{AC}", "kilogram/hectare"),
    ("cwt/ac", "kg/ha", f"hundredweight/{AC}", "kilogram/hectare"),
    ("short ton/ac", "kg/ha", f"short_ton/{AC}", "kilogram/hectare"),
    ("oz (mass)/ac", "kg/ha", f"ounce/{AC}", "kilogram/hectare"),
    ("mL/ha", "L/ha", "milliliter/hectare", "liter/hectare"),
    ("US gal/ac", "L/ha", f"gallon/{AC}", "liter/hectare"),
    ("US qt/ac", "L/ha", f"quart/{AC}", "liter/hectare"),
    ("US pt/ac", "L/ha", f"pint/{AC}", "liter/hectare"),
    ("US fl oz/ac", "L/ha", f"US_fluid_ounce/{AC}", "liter/hectare"),
    ("imp gal/ac", "L/ha", f"imperial_gallon/{AC}", "liter/hectare"),
    ("count/ha", "count/m2", "1/hectare", "1/meter**2"),
    ("count/ac", "count/m2", f"1/{AC}", "1/meter**2"),
    ("plants/ha", "count/m2", "1/hectare", "1/meter**2"),
    ("plants/ac", "count/m2", f"1/{AC}", "1/meter**2"),
    ("plants/ft2", "count/m2", "1/foot**2", "1/meter**2"),
    ("seeds/ha", "count/m2", "1/hectare", "1/meter**2"),
    ("seeds/ac", "count/m2", f"1/{AC}", "1/meter**2"),
    ("seeds/ft2", "count/m2", "1/foot**2", "1/meter**2"),
    ("plants/ft", "count/m", "1/foot", "1/meter"),
    ("seeds/ft", "count/m", "1/foot", "1/meter"),
    ("seeds/lb", "seeds/kg", "1/pound", "1/kilogram"),
    ("g/100 m", "g/m", "gram/(100*meter)", "gram/meter"),
    ("g/0.5 L", "kg/hL", "gram/(0.5*liter)", "kilogram/hectoliter"),
    ("g/L", "kg/hL", "gram/liter", "kilogram/hectoliter"),
    ("kg/L", "kg/hL", "kilogram/liter", "kilogram/hectoliter"),
    ("lb/Winchester bu", "kg/hL", f"pound/{WINCHESTER}", "kilogram/hectoliter"),
    ("lb/imperial bu", "kg/hL", f"pound/{IMPERIAL_BUSHEL}", "kilogram/hectoliter"),
    ("oz (mass)/1000 ft", "g/m", "ounce/(1000*foot)", "gram/meter"),
    ("fraction", "%", "dimensionless", "percent"),
    ("g/kg", "%", "gram/kilogram", "percent"),
    ("mg/kg", "%", "milligram/kilogram", "percent"),
    ("degF", "degC", "degF", "degC"),
    ("degF difference", "degC difference", "delta_degF", "delta_degC"),
    ("degF d", "degC d", "delta_degF*day", "delta_degC*day"),
    ("min", "s", "minute", "second"),
    ("h", "s", "hour", "second"),
    ("d", "s", "day", "second"),
    ("wk", "s", "week", "second"),
    ("m/s", "km/h", "meter/second", "kilometer/hour"),
    ("mph", "km/h", "mile/hour", "kilometer/hour"),
    ("mL/min", "L/min", "milliliter/minute", "liter/minute"),
    ("US gal/min", "L/min", "gallon/minute", "liter/minute"),
    ("bar", "kPa", "bar", "kilopascal"),
    ("psi", "kPa", "psi", "kilopascal"),
]

out = csv.writer(sys.stdout, lineterminator="\n")
out.writerow(["symbol", "canonical", "of_one", "of_hundred"])
for symbol, canonical, expression, into in ROWS:
    if symbol == "degF":
        of = lambda value: units.Quantity(value, units.degF).to(units.degC).magnitude
    else:
        one = units.parse_expression(expression)
        of = lambda value: (value * one).to(into).magnitude
    out.writerow([symbol, canonical, repr(float(of(1.0))), repr(float(of(100.0)))])
